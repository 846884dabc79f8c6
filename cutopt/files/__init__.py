"""csv, xlsx, toml, json and html: the only disk access."""

from cutopt.files.curves import curves_csv, curves_svg
from cutopt.files.days import raw_day_from_files, read_day, read_days
from cutopt.files.results import (
    document_text,
    outputs,
    parse_document,
    read_document,
    read_tables,
    tables_of,
    write_outputs,
)

__all__ = [
    "curves_csv",
    "curves_svg",
    "document_text",
    "outputs",
    "parse_document",
    "raw_day_from_files",
    "read_day",
    "read_days",
    "read_document",
    "read_tables",
    "tables_of",
    "write_outputs",
]
