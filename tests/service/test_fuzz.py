"""The whole description, fuzzed: what holds its schemas is taken, what does not is refused as told.

The examples' day and plan are really there, and put back after every case, so that addresses
given as examples lead somewhere.
"""

from __future__ import annotations

import sqlite3
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from api.app import create_app
from api.examples import DAY_ID, PLAN_ID
from api.settings import Settings
from tests.service.conftest import post_day, signed_in, start_plan
from tests.service.days import small_document

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import schemathesis
    from schemathesis.config import SchemathesisConfig

EXAMPLES = 15
#: A schema can't say whether a day's rows hang together, or whether a day or plan is there: what it
#: allows may still be refused with these. Nor can it name the tag, link or password that holds, or
#: what only somebody of the group may do.
MAY_BE_REFUSED = ["2xx", "401", "403", "404", "406", "409", "412", "422", "429", "503"]

CONFIG = {
    "generation": {"max-examples": EXAMPLES, "deterministic": True, "mode": "all"},
    "checks": {
        "positive_data_acceptance": {"expected-statuses": MAY_BE_REFUSED},
        # What a route asks of its caller has tests of its own.
        "ignored_auth": {"enabled": False},
        # RFC 6585, 3: what a request lacks that has to be conditional.
        "missing_required_header": {"expected-statuses": ["422", "428"]},
    },
}


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz") / "cutopt.sqlite3"


@pytest.fixture(scope="module")
def app(database: Path) -> Iterator[Any]:
    """A service that plans nothing, with the examples' day and a cancelled plan of it."""
    from starlette.testclient import TestClient

    app = create_app(
        Settings(
            database=f"sqlite:///{database}",
            plans_at_once=0,
            body_mib=1,
            most_waiting=20,
            heartbeat_seconds=0.2,
        )
    )
    with TestClient(app) as client:
        headers = signed_in(app)
        token = headers["Cookie"].partition("=")[2]
        # By both its names: that of this machine, and that of any other.
        app.state.headers = {**headers, "Cookie": f"__Host-cutopt={token}; cutopt={token}"}
        client.headers.update(app.state.headers)
        day = post_day(client, small_document())
        plan = start_plan(client, day)
        client.post(f"/plans/{plan}/cancel")
        with sqlite3.connect(database) as connection:
            connection.execute("UPDATE days SET id = ? WHERE id = ?", (DAY_ID, day))
            connection.execute("UPDATE plans SET id = ? WHERE id = ?", (PLAN_ID, plan))
        connection.close()
        yield app


def _sign(case: Any, app: Any) -> None:
    """As an admin who is signed in: whatever key or cookie a case made up is not sent."""
    for name in ("Authorization", "Cookie"):
        case.headers.pop(name, None)
    case.cookies = {}
    case.headers.update(app.state.headers)


@pytest.fixture(scope="module")
def put_back(app: Any, database: Path) -> Iterator[Callable[[], None]]:
    """Puts the store back to what it was at first."""
    kept = sqlite3.connect(":memory:")
    live = sqlite3.connect(database, timeout=15)
    live.backup(kept)

    def back() -> None:
        kept.backup(live)

    yield back
    live.close()
    kept.close()


@pytest.fixture(scope="module")
def schema(app: Any) -> Any:
    return schemathesis.openapi.from_asgi(
        "/openapi.json",
        app,
        config=SchemathesisConfig.from_dict(CONFIG),
    )


lazy = schemathesis.pytest.from_fixture("schema")


@lazy.parametrize()
@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
def test_every_operation(case: Any, app: Any, put_back: Callable[[], None]) -> None:
    _sign(case, app)
    case.call_and_validate()
    if case.method != "GET":
        put_back()


CHAINS = 20
LONGEST_CHAIN = 8


def test_chains_of_operations(schema: Any, app: Any, put_back: Callable[[], None]) -> None:
    """What one operation made is read, followed, cancelled and removed by those that it links."""

    class Chains(schema.as_state_machine()):  # type: ignore[misc]
        def before_call(self, case: Any) -> None:
            super().before_call(case)
            _sign(case, app)

        def teardown(self) -> None:
            super().teardown()
            put_back()

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        Chains.run(
            settings=settings(
                max_examples=CHAINS,
                stateful_step_count=LONGEST_CHAIN,
                deadline=None,
                suppress_health_check=list(HealthCheck),
                derandomize=True,
            )
        )
