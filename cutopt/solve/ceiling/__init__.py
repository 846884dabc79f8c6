"""Full-span ceilings: rows of one board each, widths and board lengths chosen together."""

from cutopt.solve.ceiling.solver import Ceilings, ceiling_rule, plan_fields

__all__ = ["Ceilings", "ceiling_rule", "plan_fields"]
