"""What the service does, each thing within its own transaction."""

from __future__ import annotations

from dataclasses import dataclass, replace

from api.access.who import Caller
from api.operation import Metrics
from api.services.checks import CheckService
from api.services.curves import CurveService
from api.services.days import DayService
from api.services.keys import KeyService
from api.services.people import PeopleService
from api.services.planner import Planner
from api.services.plans import PlanService
from api.services.signing import AccessService
from api.services.watch import make_health, make_metrics
from api.settings import Settings
from api.store import Database

__all__ = ["Services", "make_health", "make_services"]


@dataclass(frozen=True, slots=True)
class Services:
    """All services over one database."""

    database: Database
    settings: Settings
    access: AccessService
    people: PeopleService
    days: DayService
    plans: PlanService
    curves: CurveService
    checks: CheckService
    keys: KeyService
    planner: Planner
    metrics: Metrics

    def seen_by(self, caller: Caller) -> Services:
        """The same, with what a caller sees: what belongs to their plant, or all of the group."""
        database, settings, wake = self.database, self.settings, self.planner.wake
        return replace(
            self,
            people=PeopleService(database, caller),
            days=DayService(database, caller),
            plans=PlanService(database, settings, wake, caller),
            curves=CurveService(database, settings, wake, caller),
            checks=self.checks.seen_by(caller),
        )

    def start(self) -> None:
        """Make the tables that are missing and begin to plan."""
        self.database.make_tables()
        self.planner.start()

    def stop(self) -> None:
        """Hand back what is running and let go of the database."""
        self.planner.stop()
        self.database.close()


def make_services(settings: Settings, demo: bool = False) -> Services:
    """Wire them together; a demo is entered without a password.

    Raises CutoptError where the database's address can't be used.
    """
    database = Database(settings.address)
    metrics = make_metrics(database)
    planner = Planner(database, settings, metrics)
    return Services(
        database=database,
        settings=settings,
        access=AccessService(database, demo),
        people=PeopleService(database),
        days=DayService(database),
        plans=PlanService(database, settings, planner.wake),
        curves=CurveService(database, settings, planner.wake),
        checks=CheckService(database),
        keys=KeyService(database),
        planner=planner,
        metrics=metrics,
    )
