"""Full-span ceilings: rows of one board each, widths and board lengths chosen together."""

from cutopt.solve.ceiling.boards import Choice
from cutopt.solve.ceiling.fields import Field, fields_of, laid_rows
from cutopt.solve.ceiling.model import BoardModel, Price
from cutopt.solve.ceiling.solver import Ceilings, ceiling_rule, plan_chosen, plan_fields
from cutopt.solve.ceiling.tree import IntegerModel

__all__ = [
    "BoardModel",
    "Ceilings",
    "Choice",
    "Field",
    "IntegerModel",
    "Price",
    "ceiling_rule",
    "fields_of",
    "laid_rows",
    "plan_chosen",
    "plan_fields",
]
