"""Problem, layouts, bound and why the search stopped; the checker that trusts none of it."""

from cutopt.plan.layout import (
    Drop,
    Layout,
    MaterialPlan,
    Placed,
    Plan,
    Source,
    Status,
    Stop,
    Unplanned,
)
from cutopt.plan.problem import Group, Problem
from cutopt.plan.shortage import Cause, Shortage

__all__ = [
    "Cause",
    "Drop",
    "Group",
    "Layout",
    "MaterialPlan",
    "Placed",
    "Plan",
    "Problem",
    "Shortage",
    "Source",
    "Status",
    "Stop",
    "Unplanned",
]
