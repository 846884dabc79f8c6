"""The store on both databases: leases, numbers, moments, what may not be removed."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from api.services.days import DayService
from api.services.errors import Busy, Finished, InUse, NotFinished, NotFound, RequestInvalid
from api.services.planner import Planner
from api.services.plans import PlanService
from api.settings import Settings
from api.shapes import NewPlan
from api.store import Database
from api.store.plans import PlanStore
from cutopt.records import CutoptError, InputRefused
from tests.service.days import small_files, table


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def settings(request: pytest.FixtureRequest, new_database: Callable[[str], str]) -> Settings:
    return Settings(database=new_database(request.param), most_waiting=3, workers=1)


@pytest.fixture
def database(settings: Settings) -> Iterator[Database]:
    database = Database(settings.database)
    database.make_tables()
    database.make_tables()  # a second start changes nothing
    yield database
    database.close()


@pytest.fixture
def days(database: Database) -> DayService:
    return DayService(database)


@pytest.fixture
def plans(database: Database, settings: Settings) -> PlanService:
    return PlanService(database, settings, lambda: None)


def test_a_day_comes_back_as_it_was_kept(days: DayService) -> None:
    kept = days.add_files("first", small_files())
    read = days.get(kept.id)
    assert read == kept
    assert read.created.tzinfo is not None
    assert abs((datetime.now(UTC) - read.created).total_seconds()) < 60
    assert read.files == ["cuts/walls.csv", "day.toml", "stock.csv"]
    assert (read.rows, read.pieces) == (5, 37)


def test_the_same_files_have_one_digest(days: DayService) -> None:
    first = days.add_once("first", small_files())
    assert days.add_once("first", small_files()).id == first.id
    other = days.add_once("first", small_files(config=small_files()["day.toml"] + b"\n"))
    assert other.digest != first.digest


def test_pages_hold_every_day_once(days: DayService) -> None:
    ids = [days.add_files(f"day {n}", small_files()).id for n in range(5)]
    seen: list[str] = []
    after = None
    while True:
        page = days.page(after, 2)
        seen += [day.id for day in page.items]
        if page.next is None:
            break
        after = int(page.next.rsplit("=", 1)[1])
    assert seen == ids[::-1]


def test_a_day_in_use_stays(days: DayService, plans: PlanService) -> None:
    day = days.add_files(None, small_files()).id
    plan = plans.start(NewPlan(days=[day])).id
    with pytest.raises(InUse):
        days.remove(day)
    with pytest.raises(NotFinished):
        plans.remove(plan)
    assert plans.cancel(plan).status == "stopped"
    assert plans.cancel(plan).status == "stopped"
    plans.remove(plan)
    days.remove(day)
    for read in (days.get, days.remove):
        with pytest.raises(NotFound):
            read(day)


def test_no_more_plans_wait_than_may(days: DayService, plans: PlanService) -> None:
    day = days.add_files(None, small_files()).id
    for _ in range(3):
        plans.start(NewPlan(days=[day]))
    with pytest.raises(Busy):
        plans.start(NewPlan(days=[day]))


def test_a_plan_needs_days_that_are_there(days: DayService, plans: PlanService) -> None:
    day = days.add_files(None, small_files()).id
    with pytest.raises(RequestInvalid) as refused:
        plans.start(NewPlan(days=[day, day, "0" * 32]))
    assert [fault.place for fault in refused.value.faults] == ["body.days[1]", "body.days[2]"]


def test_words_that_a_database_cannot_hold_are_refused(days: DayService) -> None:
    rows = small_files()["cuts/walls.csv"].replace(b"Alder", b"Al\0er")
    with pytest.raises(InputRefused):
        days.add_files(None, small_files(walls=rows))
    with pytest.raises(InputRefused):
        days.add_files(None, small_files(config=b'plant = "a\\u0000b"\ndate = 2026-03-02\n'))


def test_a_large_count_of_pieces_fits(days: DayService) -> None:
    """A day's pieces may go past 32 bits."""
    row = {
        "section": "A",
        "jig": "B",
        "mark": "C",
        "material": "2x4-SPF-2",
        "length": 20,
        "qty": 1000000,
    }
    rows = [{**row, "mark": f"M{n}"} for n in range(3000)]
    try:
        day = days.add_files(None, small_files(walls=table(rows)))
    except InputRefused as refused:
        pytest.skip(f"the reader allows no day so large: {refused.faults[0]}")
    assert days.get(day.id).pieces == 3000 * 1000000


def test_only_one_takes_a_plan(database: Database, days: DayService, plans: PlanService) -> None:
    plan = plans.start(NewPlan(days=[days.add_files(None, small_files()).id]))
    ready = threading.Barrier(6)
    taken: list[str] = []

    def take(owner: str) -> None:
        ready.wait()
        with database.write() as session:
            store = PlanStore(session)
            now = database.clock(session)
            number = store.free(now)
            if number is not None and store.claim(number, owner, now, now + 10, datetime.now(UTC)):
                taken.append(owner)

    threads = [threading.Thread(target=take, args=(str(n),)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(taken) == 1
    assert plans.get(plan.id).status == "running"


def test_a_lease_that_ran_out_is_taken_over_and_the_first_owner_writes_no_more(
    database: Database, days: DayService, plans: PlanService
) -> None:
    plans.start(NewPlan(days=[days.add_files(None, small_files()).id]))
    with database.write() as session:
        store = PlanStore(session)
        now = database.clock(session)
        number = store.free(now)
        assert number is not None
        assert store.claim(number, "first", now, now + 10, datetime.now(UTC))
        assert store.free(now) is None
        assert store.hold(number, "first", now + 20) is False
        later = now + 21
        assert store.free(later) == number
        assert store.claim(number, "second", later, later + 10, datetime.now(UTC))
        assert not store.claim(number, "third", later, later + 10, datetime.now(UTC))
    with database.write() as session:
        store = PlanStore(session)
        assert store.hold(number, "first", later + 20) is None
        assert store.owned(number, "first") is None
        assert store.hold(number, "second", later + 20) is False


def test_events_are_numbered_without_a_gap(
    database: Database, days: DayService, plans: PlanService
) -> None:
    plan = plans.start(NewPlan(days=[days.add_files(None, small_files()).id]))
    with database.write() as session:
        store = PlanStore(session)
        number = store.free(database.clock(session))
        assert number is not None
        store.add_events(number, [("progress", {"n": 1}), ("progress", {"n": 2})])
    plans.cancel(plan.id)
    events = plans.events(plan.id, 0)
    assert [event.number for event in events] == [1, 2, 3, 4]
    assert [event.kind for event in events] == ["status", "progress", "progress", "ended"]
    assert [event.number for event in plans.events(plan.id, 2)] == [3, 4]


def test_a_plan_is_made_on_either_database(
    database: Database, days: DayService, settings: Settings
) -> None:
    planner = Planner(database, settings)
    plans = PlanService(database, settings, planner.wake)
    planner.start()
    try:
        plan = plans.start(NewPlan(days=[days.add_files(None, small_files()).id]))
        *_, end = _until_ended(plans, plan.id)
    finally:
        planner.stop()
    assert end == {"status": "done", "outcome": "planned"}
    view = plans.get(plan.id)
    assert view.materials is not None
    assert {m.material for m in view.materials} == {"2x4-SPF-2", "OSB-7/16"}
    assert plans.file(plan.id, "plan.json").startswith(b"{")
    with pytest.raises(Finished):
        plans.cancel(plan.id)
    plans.remove(plan.id)
    with database.read() as session:
        for name in ("plan_files", "plan_events", "plan_days"):
            assert session.execute(text(f"SELECT count(*) FROM {name}")).scalar_one() == 0


def _until_ended(plans: PlanService, id: str) -> Iterator[dict[str, object]]:
    last = 0
    for _ in range(600):
        for event in plans.events(id, last):
            last = event.number
            yield event.data
            if event.kind == "ended":
                return
        threading.Event().wait(0.1)
    raise AssertionError("the plan did not end in 60 s")


@pytest.mark.postgres
def test_a_connection_that_was_lost_while_it_lay_idle_is_made_anew(
    new_database: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.store.database._IDLE", 0.0)
    database = Database(new_database("postgres"))
    database.make_tables()
    try:
        for way in (database.read, database.write):
            with way() as session:
                lost = session.scalar(text("SELECT pg_backend_pid()"))
            killer = create_engine(database.engine.url)
            with killer.connect() as connection:
                connection.execute(text("SELECT pg_terminate_backend(:pid)"), {"pid": lost})
            killer.dispose()
            with way() as session:
                assert session.scalar(text("SELECT pg_backend_pid()")) != lost
    finally:
        database.close()


def test_addresses_that_name_no_database_we_speak_are_refused() -> None:
    for address in ("nowhere", "mysql://host/name", ""):
        with pytest.raises(CutoptError, match="would be right"):
            Database(address)


def test_sqlite_is_set_up_for_many_readers_and_safe_writes(tmp_path: Path) -> None:
    database = Database(f"sqlite:///{tmp_path}/cutopt.sqlite3")
    database.make_tables()
    with database.read() as session:
        wanted = {"journal_mode": "wal", "foreign_keys": 1, "synchronous": 2}
        for pragma, value in wanted.items():
            assert session.execute(text(f"PRAGMA {pragma}")).scalar_one() == value
    database.close()
