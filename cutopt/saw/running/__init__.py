"""The running order at the saw: layouts as they are cut, carts as they are served.

`work` says what a saw has to cut, `judge` what an order comes to, `starts` and `visits` give
orders to begin from, `search` betters them, `limits` says what none can do better, `assign` gives
the pieces to sections once the order is chosen, `sticks` puts long parts first, `order` wires it;
`windows` plans so many carts at a time, `curve` shows what that costs.
"""

from cutopt.saw.running.curve import USUAL_WINDOWS, WindowCurve, WindowPoint, window_curve
from cutopt.saw.running.order import (
    CartTimes,
    Figures,
    Order,
    Ordered,
    Run,
    Setup,
    running_order,
)
from cutopt.saw.running.search import Effort, Step
from cutopt.saw.running.sticks import Caution
from cutopt.saw.running.windows import Windowed, plan_by_windows
from cutopt.saw.running.work import Cart, Work, work_of

__all__ = [
    "USUAL_WINDOWS",
    "Cart",
    "CartTimes",
    "Caution",
    "Effort",
    "Figures",
    "Order",
    "Ordered",
    "Run",
    "Setup",
    "Step",
    "WindowCurve",
    "WindowPoint",
    "Windowed",
    "Work",
    "plan_by_windows",
    "running_order",
    "window_curve",
    "work_of",
]
