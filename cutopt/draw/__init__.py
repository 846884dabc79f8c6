"""A layout as a drawing: SVG of a stick on its tape, of a sheet on its two tapes."""

from cutopt.draw.labels import Label, in_order, labels_of, mark_of, size_of, stock_size
from cutopt.draw.sheet import sheet_cuts, sheet_drawing
from cutopt.draw.stick import stick_drawing
from cutopt.draw.style import COLOURS, DRAWING_STYLE
from cutopt.draw.text import letter, safe

__all__ = [
    "COLOURS",
    "DRAWING_STYLE",
    "Label",
    "in_order",
    "labels_of",
    "letter",
    "mark_of",
    "safe",
    "sheet_cuts",
    "sheet_drawing",
    "size_of",
    "stick_drawing",
    "stock_size",
]
