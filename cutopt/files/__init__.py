"""csv, xlsx, toml, json and html: the only disk access."""

from cutopt.files.days import raw_day_from_files, read_day, read_days

__all__ = ["raw_day_from_files", "read_day", "read_days"]
