"""Where the material went: input, parts, kerf, trim, drops; yield and waste percent; the rack."""

from cutopt.yields.account import YieldLine, yields
from cutopt.yields.rack import RackLine, rack

__all__ = ["RackLine", "YieldLine", "rack", "yields"]
