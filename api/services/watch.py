"""What those who run the service are told: its queue, and whether each of its parts is well."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from api.operation import Health, Metrics, Probe, QueueFigures, UnwellError
from api.services.planner import Planner
from api.settings import MIB, Settings
from api.store import Database
from api.store.plans import PlanStore
from cutopt.records import CutoptError

__all__ = ["make_health", "make_metrics"]

#: Whoever asks waits so long at most; a check of a container waits some seconds itself.
_WITHIN = 3.0
_UNREACHED = "plans wait: the workers can't be reached"


def make_metrics(database: Database) -> Metrics:
    """Figures of this process, and the queue of the database that it works on."""
    look = Probe(lambda: _queue(database))
    return Metrics(lambda: look.ask(_WITHIN))


def _queue(database: Database) -> QueueFigures:
    with database.read() as session:
        found = PlanStore(session).open_figures()
    now = datetime.now(UTC)
    waiting, oldest = found.get("queued", (0, now))
    running, _ = found.get("running", (0, now))
    return QueueFigures(waiting, running, max(0.0, (now - oldest).total_seconds()))


def make_health(
    database: Database, planner: Planner, settings: Settings, stopping: Callable[[], bool]
) -> Health:
    """Looks at every part that the service can't work without."""
    answers = Probe(lambda: _answers(database))
    schema = Probe(lambda: _schema(database))
    looks: dict[str, Callable[[], str]] = {
        "service": lambda: _service(stopping()),
        "database": lambda: _within(answers),
        "schema": lambda: _within(schema),
        "planner": lambda: _planner(planner.alive(), settings.plans_at_once),
    }
    place = database.engine.url.database
    if database.is_sqlite and place and settings.least_free_mib:
        looks["disk"] = lambda: _disk(Path(place), settings.least_free_mib)
    workers = Probe(lambda: _workers(planner, settings.plans_at_once))
    return Health(looks, {"workers": lambda: _within(workers, _UNREACHED)})


def _service(stopping: bool) -> str:
    if stopping:
        raise UnwellError("it is stopping")
    return "it takes requests"


def _within(look: Probe[str], late: str = "") -> str:
    try:
        return look.ask(_WITHIN)
    except TimeoutError as error:
        raise UnwellError(late or f"no answer within {_WITHIN:g} s") from error
    except SQLAlchemyError as error:
        raise UnwellError("it does not answer") from error


def _answers(database: Database) -> str:
    began = time.perf_counter()
    database.answers()
    return f"it answered in {(time.perf_counter() - began) * 1000:.0f} ms"


def _schema(database: Database) -> str:
    try:
        step, wanted = database.steps()
    except CutoptError as error:
        raise UnwellError("it is newer than this program") from error
    if step != wanted:
        raise UnwellError(f"it is at step {step or 'none'}, this program needs {wanted}")
    return f"it is at step {step}"


def _planner(alive: int, wanted: int) -> str:
    told = f"{alive} of {wanted} threads live"
    if alive < wanted:
        raise UnwellError(told)
    return told if wanted else "this process plans nothing"


def _workers(planner: Planner, wanted: int) -> str:
    """Plans wait without them; whatever was planned can be read all the same."""
    if not wanted:
        return "this process plans nothing"
    count = planner.workers()
    if count is None:
        raise UnwellError(_UNREACHED)
    if not count:
        raise UnwellError("plans wait: there is no worker")
    return f"{count} can work side by side"


def _disk(place: Path, least: int) -> str:
    free = shutil.disk_usage(place.absolute().parent).free // MIB
    if free < least:
        raise UnwellError(
            f"{free:,} MiB are free below the database, at least {least:,} are needed"
        )
    return f"{free:,} MiB are free below the database"
