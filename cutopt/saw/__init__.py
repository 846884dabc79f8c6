"""In what order to cut: the cut list of a plan, as the saw takes it."""

from cutopt.saw.cutting import CutLine, cut_list

__all__ = ["CutLine", "cut_list"]
