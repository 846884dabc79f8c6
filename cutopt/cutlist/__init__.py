"""Cut lists: the parts, fields and runs of a day, read from tables of words."""

from cutopt.cutlist.part import Day, Joints, Part, Rule

__all__ = ["Day", "Joints", "Part", "Rule"]
