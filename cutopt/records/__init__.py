"""What was read and what is wrong with it: tables of words, places, faults. The lowest room."""

from cutopt.records.faults import (
    MOST_FAULTS,
    CutoptError,
    Fault,
    Faults,
    InputRefused,
    Place,
    PlanFaulty,
)
from cutopt.records.suggest import known_or_nearest, nearest
from cutopt.records.table import Row, Table

__all__ = [
    "MOST_FAULTS",
    "CutoptError",
    "Fault",
    "Faults",
    "InputRefused",
    "Place",
    "PlanFaulty",
    "Row",
    "Table",
    "known_or_nearest",
    "nearest",
]
