"""In what order to cut: the cut list of a plan, as the saw takes it."""

from cutopt.saw.cutting import CutLine, cut_list
from cutopt.saw.sheets import SheetCutLine, sheet_cuts

__all__ = ["CutLine", "SheetCutLine", "cut_list", "sheet_cuts"]
