"""Whose plan is taken up next: plants in turns, from what the database holds."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from pathlib import Path

from api.services.days import DayService
from api.services.plans import PlanService
from api.settings import Settings
from api.shapes import NewPlan
from api.store import Database
from api.store.models import PlantRow
from api.store.plans import PlanStore, Turn
from tests.service.days import small_files


def test_a_plant_with_one_plan_does_not_wait_for_one_with_many(tmp_path: Path) -> None:
    """Three plans of the first plant came before the only one of the second."""
    database = Database(f"sqlite:///{tmp_path}/cutopt.sqlite3")
    database.make_tables()
    days, plans = DayService(database), PlanService(database, Settings(), lambda: None)
    numbers = []
    for name, count in (("Hask Lake", 3), ("Tarn Mill", 1)):
        row = PlantRow(
            id=uuid.uuid4().hex, name=name, zone="UTC", unit="in", created=datetime.now(UTC)
        )
        with database.write() as session:
            session.add(row)
        numbers.append(row.number)
        day = days.add_files(name, small_files(), plant=row.id)
        for seed in range(count):
            plans.start(NewPlan(days=[day.id], seed=seed))
    first, second = numbers

    with database.write() as session:
        store = PlanStore(session)
        assert store.turns(100.0) == [Turn(first, 1, 0), Turn(second, 4, 0)]
        assert store.claim(1, "a" * 32, 100.0, 110.0, datetime.now(UTC))
        assert store.turns(100.0) == [Turn(first, 2, 1), Turn(second, 4, 0)]
        assert store.claim(4, "b" * 32, 100.0, 200.0, datetime.now(UTC))
        assert store.turns(100.0) == [Turn(first, 2, 1)]
        # A lease that ran out: its plan waits again, and is the oldest.
        assert store.turns(150.0) == [Turn(first, 1, 0)]
    database.close()
