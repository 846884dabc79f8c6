"""Planning in processes of its own, so that whatever happens to one never takes the service."""

from api.jobs.crew import Crew, LocalCrew
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
from api.jobs.run import Run
from api.jobs.turns import Gone, Lost, Turns
from api.jobs.work import Answer

__all__ = [
    "Answer",
    "Crashed",
    "Crew",
    "CurvedFiles",
    "DayFiles",
    "Gone",
    "Job",
    "LocalCrew",
    "Lost",
    "MaterialFigures",
    "PlannedFiles",
    "Refused",
    "Run",
    "Told",
    "Turns",
    "Unsound",
    "crew_of",
    "read_sources",
]


def crew_of(scheduler: str, workers: int) -> Crew:
    """Who works: the cluster behind a scheduler's address, or processes of this machine."""
    if not scheduler:
        return LocalCrew(workers)
    from api.jobs.cluster import ClusterCrew

    return ClusterCrew(scheduler)
