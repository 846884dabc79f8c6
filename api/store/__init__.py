"""Days and plans in a relational database, SQLite or PostgreSQL. Reached through services alone."""

from api.store.access_models import PersonRow, StationRow
from api.store.database import Database
from api.store.models import (
    CurveRow,
    DayFileRow,
    DayRow,
    EventRow,
    PlanDayRow,
    PlanFileRow,
    PlanRow,
    PlantRow,
)

__all__ = [
    "CurveRow",
    "Database",
    "DayFileRow",
    "DayRow",
    "EventRow",
    "PersonRow",
    "PlanDayRow",
    "PlanFileRow",
    "PlanRow",
    "PlantRow",
    "StationRow",
]
