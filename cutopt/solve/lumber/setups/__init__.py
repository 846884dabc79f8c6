"""Fewer set-ups: the same pieces from fewer different layouts, at the same cost or a little more.

`key` says what one set-up is, `pool` lists layouts that cost little, `build` puts pieces into few
of them, `exact` takes the fewest of a short list, `search` improves a plan, `reduce` is what the
solver calls, `curve` sets cost against set-ups, `least` proves how many are needed.
"""

from cutopt.solve.lumber.setups.curve import setups_curve, setups_points
from cutopt.solve.lumber.setups.key import Keys
from cutopt.solve.lumber.setups.least import least_setups
from cutopt.solve.lumber.setups.reduce import fewer_setups, stacks_of, tolerance_of

__all__ = [
    "Keys",
    "fewer_setups",
    "least_setups",
    "setups_curve",
    "setups_points",
    "stacks_of",
    "tolerance_of",
]
