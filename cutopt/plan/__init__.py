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

__all__ = [
    "Drop",
    "Group",
    "Layout",
    "MaterialPlan",
    "Placed",
    "Plan",
    "Problem",
    "Source",
    "Status",
    "Stop",
    "Unplanned",
]
