"""Cut lists: the parts, fields and runs of a day, read from tables of words."""

from cutopt.cutlist.part import Day, Joints, Part, Rule
from cutopt.cutlist.reading import (
    CUT_COLUMNS,
    RawDay,
    Reading,
    column_name,
    raw_day_from_json,
    read_raw_days,
)

__all__ = [
    "CUT_COLUMNS",
    "Day",
    "Joints",
    "Part",
    "RawDay",
    "Reading",
    "Rule",
    "column_name",
    "raw_day_from_json",
    "read_raw_days",
]
