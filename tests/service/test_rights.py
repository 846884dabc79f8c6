"""Who may do what: every role against every route and page, and other plants' things."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.access.caller import needs_of, routes_of
from api.access.rights import RIGHTS, Right, Role
from api.app import create_app
from api.settings import Settings
from tests.service.conftest import post_day, signed_in, start_curve, start_plan
from tests.service.days import small_document

#: Beside what is declared public: the description itself.
DESCRIPTION = "/openapi.json"
#: What each role may do, in words of its own: from the roles' work, not from the code.
MAY = {
    Role.PLANNER: "days.read days.write plans.read plans.start order.read cuts.read yield.read "
    "state.read",
    Role.PURCHASING: "days.read plans.read order.read state.read",
    Role.ACCOUNTANT: "days.read plans.read order.read yield.read state.read",
    Role.STATION: "plans.read cuts.read state.read",
    Role.ADMIN: "days.read days.write plans.read plans.start order.read cuts.read yield.read "
    "state.read people.manage stations.manage audit.read settings.manage",
}


def all_routes() -> list[tuple[str, str, tuple[Right, ...] | None]]:
    """Method, path and what is asked of every route; None for what is public."""
    app = create_app(Settings(database="sqlite:///never-opened.sqlite3", plans_at_once=0))
    found = []
    for route in routes_of(app):
        if route.path != DESCRIPTION:
            (needed,) = needs_of(route)
            found += [(method, route.path, needed) for method in sorted(route.methods)]
    return found


ROUTES = all_routes()


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    folder = tmp_path_factory.mktemp("rights")
    settings = Settings(database=f"sqlite:///{folder}/cutopt.sqlite3", plans_at_once=0, workers=1)
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        yield client.app


@pytest.fixture(scope="module")
def client_as(app: Any) -> Callable[..., TestClient]:
    """A maker of clients of that one service: in a role, of a plant."""
    made: dict[Any, TestClient] = {}

    def make(role: Role | None, plant: str | None = "First") -> TestClient:
        if (role, plant) not in made:
            client = TestClient(app, raise_server_exceptions=False, follow_redirects=False)
            if role is not None:
                client.headers.update(signed_in(app, role, plant))
            made[role, plant] = client
        return made[role, plant]

    return make


def test_every_route_says_what_it_asks() -> None:
    app = create_app(Settings(database="sqlite:///never-opened.sqlite3", plans_at_once=0))
    for route in routes_of(app):
        if route.path != DESCRIPTION:
            assert len(needs_of(route)) == 1, f"{route.path} declares neither needs nor public"


def test_roles_have_the_rights_of_their_work() -> None:
    assert {role: set(rights) for role, rights in RIGHTS.items()} == {
        role: {Right(word) for word in words.split()} for role, words in MAY.items()
    }


def test_what_is_public_is_known_by_name() -> None:
    """Whoever makes a route public has to say so here too."""
    assert {f"{method} {path}" for method, path, needed in ROUTES if needed is None} == {
        "GET /livez",
        "GET /readyz",
        "GET /metrics",
        "GET /pages/problems",
        "GET /problems",
        "GET /problems/{name}",
        "GET /static/{name}",
        "POST /session",
        "POST /set-up",
        "POST /password",
        "POST /pair",
        "GET /sign-in",
        "POST /sign-in",
        "GET /set-up/{link}",
        "POST /set-up/{link}",
        "GET /password/{link}",
        "POST /password/{link}",
        "GET /pair/{code}",
        "POST /pair/{code}",
        "POST /pages/language",
    }


@pytest.mark.parametrize(
    ("method", "path", "needed"), ROUTES, ids=[f"{method} {path}" for method, path, _ in ROUTES]
)
@pytest.mark.parametrize("role", [None, *Role], ids=["nobody", *Role])
def test_every_role_at_every_route(
    client_as: Callable[..., TestClient],
    role: Role | None,
    method: str,
    path: str,
    needed: tuple[Right, ...] | None,
) -> None:
    """Let in, or refused, before anything else is looked at: ids that are not there, no body."""
    if path == "/metrics":
        return  # it has a key of its own, and tests
    address = re.sub(r"\{\w+\}", "0" * 32, path)
    client = client_as(role)
    if (method, path) in (("POST", "/sign-out"), ("DELETE", "/session")):
        client = TestClient(client.app, follow_redirects=False)  # its session ends with this
        client.headers.update({} if role is None else signed_in(client.app, role, "First"))
    answer = client.request(method, address)
    problem = answer.headers.get("content-type") == "application/problem+json"
    kind = answer.json()["type"] if problem else ""
    led = answer.headers.get("location", "").startswith("/sign-in?")
    refused = led or answer.status_code in (401, 403)
    if needed is None:
        # A name or a link that is not good is refused as well, but not for who asks.
        assert not refused or re.match("/(sign-in|set-up|password|pair)", path)
    elif role is None:
        assert answer.status_code in (303, 401)
        assert refused
        assert answer.status_code == 303 or kind in ("/problems/not-signed-in", "")
    elif {right.value for right in needed} <= set(MAY[role].split()):
        assert answer.status_code < 500
        assert not refused or (method, path) == ("POST", "/plants"), answer.text
    else:
        assert answer.status_code == 403, answer.text
        assert kind in ("/problems/not-allowed", "")


def test_another_plants_things_are_not_there(client_as: Callable[..., TestClient]) -> None:
    """For everything that has an id: 404, as for what never was, and it stays as it is."""
    first, other = client_as(Role.ADMIN), client_as(Role.ADMIN, "Second")
    group = client_as(Role.ADMIN, None)
    day = post_day(first)
    plan, curve = start_plan(first, day), start_curve(first, day)
    person = first.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()
    station = first.post("/stations", json={"name": "Saw 1"}).json()["id"]
    ids = {
        "day": day,
        "plan": plan,
        "curve": curve,
        "person": person["person"]["id"],
        "station": station,
        "plant": first.get("/session").json()["plant"],
    }
    bodies: dict[str, Any] = {
        "/people/{person}": {"active": False},
        "/plants/{plant}": {"name": "Mine", "zone": "UTC", "unit": "mm"},
    }
    asked = 0
    for method, path, needed in ROUTES:
        names = re.findall(r"\{(\w+)\}", path)
        if needed is None or not names or not set(names) <= set(ids):
            continue
        answer = other.request(
            method, path.format(**ids), headers={"If-Match": "*"}, json=bodies.get(path)
        )
        # A page's button goes back to the list where there is nothing (any more) to remove.
        missing = (303, 404) if method == "POST" and path.startswith("/pages/") else (404,)
        assert answer.status_code in missing, f"{method} {path}: {answer.status_code}"
        asked += 1
    assert asked > 25
    for where in ("/days", "/plans", "/curves", "/people", "/stations"):
        seen = {item["id"] for item in other.get(where).json()["items"]}
        assert not seen & set(ids.values()), where
        assert set(ids.values()) & {item["id"] for item in group.get(where).json()["items"]}
    assert ids["plant"] not in {item["id"] for item in other.get("/plants").json()["items"]}
    for named in ("/plans", "/curves"):
        more = {"of": "joints"} if named == "/curves" else {}
        answer = other.post(named, json={"days": [day], **more})
        assert answer.status_code == 422
        assert "no such day" in answer.text
    assert other.post("/check", json={"days": [day], "plan": {}}).status_code == 422
    assert other.post("/days", params={"first": day}, json={}).status_code == 422
    assert first.get(f"/plans/{plan}").json()["status"] == "queued"
    assert first.get(f"/people/{ids['person']}").json()["active"] is True


def test_the_group_names_the_plant_where_it_makes_something(
    client_as: Callable[..., TestClient],
) -> None:
    group = client_as(Role.PLANNER, None)
    first, second = client_as(Role.PLANNER), client_as(Role.PLANNER, "Second")
    plant = second.get("/session").json()["plant"]
    answer = group.post("/days", json=small_document())
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["place"] == "query.plant"
    day = group.post("/days", params={"plant": plant}, json=small_document()).json()["id"]
    assert second.get(f"/days/{day}").status_code == 200
    assert first.get(f"/days/{day}").status_code == 404
    assert group.get(f"/days/{day}").status_code == 200
    # somebody of one plant makes nothing in another
    assert first.post("/days", params={"plant": plant}, json=small_document()).status_code == 422
    # days of two plants are not planned together
    mine = post_day(first)
    answer = group.post("/plans", json={"days": [day, mine]})
    assert answer.status_code == 422
    assert "another plant" in answer.text
