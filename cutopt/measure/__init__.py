"""Exact lengths, areas, board feet and money; parsing and showing them."""

from cutopt.measure.amount import (
    SQUARE_FOOT,
    board_feet,
    feet,
    money,
    money_floor,
    nominal_size,
    percent,
    rounded,
    square_feet,
)
from cutopt.measure.length import (
    FOOT,
    INCH,
    LONGEST,
    MM,
    LengthError,
    Unit,
    decimal_length,
    fits_inches,
    length_from_number,
    parse_length,
    show_length,
)

__all__ = [
    "FOOT",
    "INCH",
    "LONGEST",
    "MM",
    "SQUARE_FOOT",
    "LengthError",
    "Unit",
    "board_feet",
    "decimal_length",
    "feet",
    "fits_inches",
    "length_from_number",
    "money",
    "money_floor",
    "nominal_size",
    "parse_length",
    "percent",
    "rounded",
    "show_length",
    "square_feet",
]
