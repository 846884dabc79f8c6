"""Planning in processes of their own, so that whatever happens to one never takes the service."""

from api.jobs.job import (
    Crashed,
    CurvedFiles,
    DayFiles,
    Job,
    MaterialFigures,
    PlannedFiles,
    Refused,
    Told,
    Unsound,
    read_sources,
)
from api.jobs.process import PlanProcess

__all__ = [
    "Crashed",
    "CurvedFiles",
    "DayFiles",
    "Job",
    "MaterialFigures",
    "PlanProcess",
    "PlannedFiles",
    "Refused",
    "Told",
    "Unsound",
    "read_sources",
]
