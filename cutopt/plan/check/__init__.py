"""The checker: trusts neither the solver nor the planner, and shares no code with either.

seen, read          the document, typed; what cannot be read is told
asked               what the days ask for and the shop offers; matching
stock               materials, rows, limits, patterns
sticks, sheets      geometry: ends, kerfs, drops, edge-to-edge cuts
parts, ceilings, runs   what is cut against what is asked
figures             money, bound, gap, status
tables              the tables beside plan.json
"""

from cutopt.plan.check.plan import check_plan
from cutopt.plan.check.tables import TABLES, TableRow
from cutopt.plan.check.told import MOST_FAULTS

__all__ = ["MOST_FAULTS", "TABLES", "TableRow", "check_plan"]
