"""The running order of the saws as tables: running_order.csv and carts.csv.

Lengths stand in the unit of plan.json; times in minutes from the start of a saw's work, to a tenth.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cutopt.files.rows import csv_bytes, exact, minutes
from cutopt.measure import Unit
from cutopt.saw.running import CartTimes, Order, Run

__all__ = ["order_files"]

#: A line a run: sticks or sheets of one pattern, cut one behind the other.
_RUNS = (
    *("saw", "run", "setup", "material", "pattern", "stock_length", "stock_width", "source"),
    *("count", "begin", "end", "layouts", "short_end"),
)
#: A line a cart, in the order in which they are opened.
_CARTS = ("saw", "section", "jig", "need", "first", "last", "full", "due")


def order_files(orders: Iterable[Order], unit: Unit) -> dict[str, bytes]:
    """Both tables by their names.

    Parameters
    ----------
    orders
        One for each saw.
    unit
        Of plan.json.
    """
    listed = list(orders)
    runs = [_run(order, number, run, unit) for order in listed for number, run in _numbered(order)]
    carts = [
        _cart(order, times) for order in listed for times in sorted(order.carts, key=_opened_first)
    ]
    return {
        "running_order.csv": csv_bytes(_RUNS, runs),
        "carts.csv": csv_bytes(_CARTS, carts),
    }


def _numbered(order: Order) -> Iterable[tuple[int, Run]]:
    return enumerate(order.runs, start=1)


def _opened_first(times: CartTimes) -> tuple[int, int]:
    return times.first, times.last


def _run(order: Order, number: int, run: Run, unit: Unit) -> Sequence[object]:
    offer = run.layouts[0].offer
    short = {(c.material, c.pattern): c.last for c in order.cautions}
    return (
        order.saw.name,
        number,
        run.setup.value,
        run.material,
        run.pattern,
        exact(offer.length, unit),
        exact(offer.width, unit),
        run.source.value,
        run.count,
        minutes(run.begin),
        minutes(run.end),
        "; ".join(f"{lay.id} x{lay.count}" for lay in run.layouts),
        exact(short.get((run.material, run.pattern)), unit),
    )


def _cart(order: Order, times: CartTimes) -> Sequence[object]:
    cart = times.cart
    return (
        order.saw.name,
        cart.section,
        cart.jig,
        "" if cart.need is None else cart.need,
        times.first + 1,
        times.last + 1,
        minutes(times.full),
        minutes(times.due),
    )
