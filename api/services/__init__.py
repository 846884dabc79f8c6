"""What the service does, each thing within its own transaction."""

from __future__ import annotations

from dataclasses import dataclass

from api.services.checks import CheckService
from api.services.curves import CurveService
from api.services.days import DayService
from api.services.keys import KeyService
from api.services.planner import Planner
from api.services.plans import PlanService
from api.settings import Settings
from api.store import Database

__all__ = ["Services", "make_services"]


@dataclass(frozen=True, slots=True)
class Services:
    """All services over one database."""

    database: Database
    days: DayService
    plans: PlanService
    curves: CurveService
    checks: CheckService
    keys: KeyService
    planner: Planner

    def start(self) -> None:
        """Make the tables that are missing and begin to plan."""
        self.database.make_tables()
        self.planner.start()

    def ready(self) -> None:
        """Come back once the database has answered; raises what it raises where it does not."""
        self.database.answers()

    def stop(self) -> None:
        """Hand back what is running and let go of the database."""
        self.planner.stop()
        self.database.close()


def make_services(settings: Settings) -> Services:
    """Wire them together. Raises CutoptError where the database's address can't be used."""
    database = Database(settings.address)
    planner = Planner(database, settings)
    return Services(
        database=database,
        days=DayService(database),
        plans=PlanService(database, settings, planner.wake),
        curves=CurveService(database, settings, planner.wake),
        checks=CheckService(database),
        keys=KeyService(database),
        planner=planner,
    )
