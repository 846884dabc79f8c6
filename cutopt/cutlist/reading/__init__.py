"""Days read from words: `read_raw_days` takes `RawDay`s, from files or from JSON."""

from cutopt.cutlist.reading.days import read_raw_days
from cutopt.cutlist.reading.document import column_name, raw_day_from_json
from cutopt.cutlist.reading.parts import CUT_COLUMNS
from cutopt.cutlist.reading.raw import RawDay, Reading

__all__ = ["CUT_COLUMNS", "RawDay", "Reading", "column_name", "raw_day_from_json", "read_raw_days"]
