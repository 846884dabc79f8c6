"""Where the material went: input, parts, kerf, trim, drops; yield and waste percent."""

from cutopt.yields.account import YieldLine, yields

__all__ = ["YieldLine", "yields"]
