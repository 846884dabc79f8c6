"""The best plan from a complete list of columns, for sticks and sheets, proved in integers."""

from cutopt.solve.covering.branch import Ended, branch
from cutopt.solve.covering.column import Column, Covering, step_of

__all__ = ["Column", "Covering", "Ended", "branch", "step_of"]
