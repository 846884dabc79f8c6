"""Drawings: a stick on its tape, a sheet on its two tapes, a curve of cost."""

from cutopt.draw.curve import curves_drawing
from cutopt.draw.labels import Label, in_order, labels_of, mark_of, size_of, stock_size
from cutopt.draw.sheet import sheet_drawing
from cutopt.draw.sheet_words import cut_words, named, piece_words, stage_words, way_words
from cutopt.draw.stick import stick_drawing
from cutopt.draw.style import COLOURS, DRAWING_STYLE
from cutopt.draw.text import letter, safe

__all__ = [
    "COLOURS",
    "DRAWING_STYLE",
    "Label",
    "curves_drawing",
    "cut_words",
    "in_order",
    "labels_of",
    "letter",
    "mark_of",
    "named",
    "piece_words",
    "safe",
    "sheet_drawing",
    "size_of",
    "stage_words",
    "stick_drawing",
    "stock_size",
    "way_words",
]
