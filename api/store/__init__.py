"""Days and plans in a relational database, SQLite or PostgreSQL. Reached through services alone."""

from api.store.database import Database
from api.store.models import (
    CurveRow,
    DayFileRow,
    DayRow,
    EventRow,
    PlanDayRow,
    PlanFileRow,
    PlanRow,
)

__all__ = [
    "CurveRow",
    "Database",
    "DayFileRow",
    "DayRow",
    "EventRow",
    "PlanDayRow",
    "PlanFileRow",
    "PlanRow",
]
