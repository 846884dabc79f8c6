"""Signing in and out, the first start, links, pairing, lock-out, and the trail that they leave."""

from __future__ import annotations

import re
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError
from starlette.testclient import TestClient

from api.access.rights import Role
from api.access.secrets import digest, read_code
from api.app import create_app
from api.serve import tell_set_up
from api.services import Services
from api.settings import Settings
from api.store import Database
from tests.service import first_release
from tests.service.conftest import post_day, signed_in, start_plan
from tests.service.signing import NAME, PASSWORD, PLANT, enter, enter_demo

HERE = "http://127.0.0.1"
ANY = {"If-Match": "*"}
KINDS = ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)]


@pytest.fixture
def settings(new_database: Callable[[str], str], request: pytest.FixtureRequest) -> Settings:
    kind = getattr(request, "param", "sqlite")
    return Settings(database=new_database(kind), plans_at_once=0, workers=1)


@pytest.fixture
def app(client_of: Callable[[Settings], TestClient], settings: Settings) -> Any:
    """A service that nobody was let into yet: its first client's person has no password."""
    return client_of(settings).app


@pytest.fixture
def link(app: Any) -> str:
    services: Services = app.state.services
    token = services.access.set_up_link()
    assert token is not None
    return token


def new_client(app: Any, base: str = HERE) -> TestClient:
    """A browser that nobody is signed in with."""
    return TestClient(app, base_url=base, follow_redirects=False, raise_server_exceptions=False)


def set_up(client: TestClient, link: str, **more: str) -> Any:
    told = {"link": link, "name": NAME, "password": PASSWORD, "plant": PLANT, **more}
    return client.post("/set-up", json=told)


def let_in(admin: TestClient, app: Any, name: str, role: str) -> TestClient:
    """A client of somebody new, who has chosen a password."""
    made = admin.post("/people", json={"name": name, "role": role})
    assert made.status_code == 201, made.text
    client = new_client(app)
    token = made.json()["path"].rsplit("/", 1)[1]
    answer = client.post("/password", json={"link": token, "password": PASSWORD})
    assert answer.status_code == 201, answer.text
    client.headers["X-CSRF-Token"] = answer.json()["csrf"]
    return client


@pytest.mark.parametrize("settings", KINDS, indirect=True)
def test_the_first_person_comes_by_the_link_and_only_once(app: Any, link: str) -> None:
    client = new_client(app)
    assert set_up(client, "x" * 43).status_code == 401
    assert set_up(client, link, password="short").status_code == 422  # and the link stays good
    assert set_up(client, link, zone="Mars/Olympus").status_code == 422
    answer = set_up(client, link)
    assert answer.status_code == 201
    assert answer.json()["role"] == "admin"
    assert client.get("/session").json()["name"] == NAME
    assert set_up(new_client(app), link).status_code == 401
    assert app.state.services.access.set_up_link() is None


def test_a_link_ends_after_a_day(app: Any, link: str, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Database.clock
    monkeypatch.setattr(Database, "clock", lambda *a: clock(*a) + 24 * 3600 + 1)
    assert set_up(new_client(app), link).status_code == 401


@pytest.mark.parametrize("settings", KINDS, indirect=True)
def test_people_sign_in_by_name_and_password_and_out(app: Any, link: str) -> None:
    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    planner = let_in(admin, app, "Ivo Lath", "planner")
    assert planner.get("/session").json()["rights"]
    assert planner.delete("/session").status_code == 204
    assert planner.get("/session").status_code == 401
    other = new_client(app)
    told = {"name": "IVO LATH", "password": PASSWORD}  # capitals or not
    assert other.post("/session", json=told).status_code == 201
    assert other.get("/days").status_code == 200


def test_the_cookie_is_kept_from_scripts_and_from_other_hosts(app: Any, link: str) -> None:
    """RFC 6265bis: `__Host-` needs Secure, the path / and no domain."""
    enter(new_client(app), f"/set-up/{link}")
    for base, name, secure in (
        (HERE, "cutopt", False),
        ("https://plant.example", "__Host-cutopt", True),
        ("http://plant.example", "__Host-cutopt", True),
    ):
        answer = new_client(app, base).post("/session", json={"name": NAME, "password": PASSWORD})
        cookie = answer.headers["set-cookie"]
        assert cookie.startswith(f"{name}=")
        assert "HttpOnly" in cookie
        assert "SameSite=lax" in cookie
        assert "Path=/" in cookie
        assert "Domain" not in cookie
        assert ("Secure" in cookie) is secure


def test_a_session_ends_by_itself(app: Any, link: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two hours without a request, or twelve hours in all."""
    client = new_client(app)
    enter(client, f"/set-up/{link}")
    clock, ahead = Database.clock, 0.0
    monkeypatch.setattr(Database, "clock", lambda *a: clock(*a) + ahead)
    for _ in range(7):
        ahead += 1.7 * 3600
        assert client.get("/session").status_code == 200
    ahead += 0.2 * 3600
    assert client.get("/session").status_code == 401
    enter(client, "")
    ahead += 2.1 * 3600
    assert client.get("/session").status_code == 401


def test_a_new_role_or_none_ends_what_was_signed_in(app: Any, link: str) -> None:
    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    planner = let_in(admin, app, "Ivo Lath", "planner")
    id = next(p["id"] for p in admin.get("/people").json()["items"] if p["name"] == "Ivo Lath")
    assert (
        admin.patch(
            f"/people/{id}", json={"role": "accountant"}, headers={"If-Match": "*"}
        ).status_code
        == 200
    )
    assert planner.get("/session").status_code == 401
    told = {"name": "Ivo Lath", "password": PASSWORD}
    assert planner.post("/session", json=told).json()["role"] == "accountant"
    assert admin.patch(f"/people/{id}", json={"active": False}, headers=ANY).status_code == 200
    assert planner.get("/session").status_code == 401
    assert planner.post("/session", json=told).status_code == 401


def test_the_last_admin_stays(app: Any, link: str) -> None:
    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    id = next(p["id"] for p in admin.get("/people").json()["items"] if p["name"] == NAME)
    for change in ({"role": "planner"}, {"active": False}):
        answer = admin.patch(f"/people/{id}", json=change, headers=ANY)
        assert (answer.status_code, answer.json()["type"]) == (409, "/problems/not-possible")


@pytest.mark.parametrize("settings", KINDS, indirect=True)
def test_a_station_is_paired_once_by_its_code(app: Any, link: str) -> None:
    admin, saw = new_client(app), new_client(app)
    enter(admin, f"/set-up/{link}")
    id = admin.post("/stations", json={"name": "Saw 1"}).json()["id"]
    first = admin.post(f"/stations/{id}/code").json()
    made = admin.post(f"/stations/{id}/code").json()
    assert made["qr"].startswith("<svg")
    assert made["path"] == f"/pair/{read_code(made['code'])}"
    assert saw.post("/pair", json={"code": first["code"]}).status_code == 401  # taken the place of
    paired = saw.post("/pair", json={"code": made["code"].lower()})
    assert paired.status_code == 201
    assert saw.post("/pair", json={"code": made["code"]}).status_code == 401
    key = {"Authorization": f"Bearer {paired.json()['key']}"}
    assert saw.get("/session", headers=key).json()["name"] == "Saw 1"
    assert saw.get("/plans", headers=key).status_code == 200
    assert saw.get("/days", headers=key).status_code == 403
    assert admin.post(f"/stations/{id}/end").status_code == 204
    assert saw.get("/plans", headers=key).status_code == 401
    assert admin.post(f"/stations/{id}/code").status_code == 409


def test_the_qr_code_says_where_to_go(app: Any, link: str) -> None:
    """The same drawing as the encoder makes of the address; that it reads is ISO/IEC 18004's."""
    import segno

    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    id = admin.post("/stations", json={"name": "Saw 1"}).json()["id"]
    made = admin.post(f"/stations/{id}/code").json()
    wanted = segno.make(f"{HERE}{made['path']}", error="m", micro=False)
    assert wanted.svg_inline(scale=6, dark="#000", light="#fff", border=4) == made["qr"]


def test_a_screen_is_signed_in_by_its_page(app: Any, link: str) -> None:
    admin, screen = new_client(app), new_client(app)
    enter(admin, f"/set-up/{link}")
    id = admin.post("/stations", json={"name": "Saw 1"}).json()["id"]
    path = admin.post(f"/stations/{id}/code").json()["path"]
    assert screen.get(path).status_code == 200
    assert screen.get(path).status_code == 200  # looking does not use it up
    assert screen.post(path).status_code == 303
    assert screen.get("/session").json()["kind"] == "station"
    assert new_client(app).post(path).status_code == 401


@pytest.mark.parametrize("settings", KINDS, indirect=True)
def test_who_tries_too_often_is_shut_out_for_a_while(
    app: Any, link: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Five times a name; a name that is not there alike, so that nothing is learned by it."""
    assert set_up(new_client(app), link).status_code == 201
    client = new_client(app)
    for name in (NAME, "Nobody Here"):
        told = {"name": name, "password": "wrong and wrong again"}
        answers = [client.post("/session", json=told) for _ in range(6)]
        assert [a.status_code for a in answers] == [401] * 5 + [429]
        assert 800 < int(answers[-1].headers["retry-after"]) <= 900
        assert len({a.json()["detail"] for a in answers[:5]}) == 1
    right = {"name": NAME, "password": PASSWORD}
    assert client.post("/session", json=right).status_code == 429
    clock = Database.clock
    monkeypatch.setattr(Database, "clock", lambda *a: clock(*a) + 901)
    assert client.post("/session", json=right).status_code == 201


def test_an_address_that_tries_many_names_is_shut_out(app: Any) -> None:
    client = new_client(app)
    told = [{"name": f"Name {n}", "password": "wrong and wrong again"} for n in range(31)]
    codes = [client.post("/session", json=each).status_code for each in told]
    assert codes == [401] * 30 + [429]
    assert client.post("/pair", json={"code": "AAAAA-AAAAA"}).status_code == 429


def test_a_change_needs_the_sessions_own_token(app: Any, link: str) -> None:
    client, other = new_client(app), new_client(app)
    enter(client, f"/set-up/{link}")
    enter(other, "")
    stolen = other.headers["X-CSRF-Token"]
    for token in (None, "", "0" * 64, stolen):
        client.headers["X-CSRF-Token"] = token or ""
        if token is None:
            del client.headers["X-CSRF-Token"]
        answer = client.post("/plans", json={"days": []})
        assert (answer.status_code, answer.json()["type"]) == (403, "/problems/not-allowed")
    right = client.get("/session").json()["csrf"]
    client.headers["X-CSRF-Token"] = right
    assert client.post("/plans", json={"days": []}).status_code == 422
    for origin in ("https://elsewhere.example", "null"):
        answer = client.post("/plans", json={"days": []}, headers={"Origin": origin})
        assert answer.status_code == 403
    answer = client.post("/plans", json={}, headers={"Sec-Fetch-Site": "cross-site"})
    assert answer.status_code == 403


def test_nobody_is_signed_in_by_another_site(app: Any, link: str) -> None:
    enter(new_client(app), f"/set-up/{link}")
    told = {"name": NAME, "password": PASSWORD}
    elsewhere = {"Origin": "https://elsewhere.example"}
    assert new_client(app).post("/session", json=told, headers=elsewhere).status_code == 403
    assert new_client(app).post("/sign-in", data=told, headers=elsewhere).status_code == 403


def test_the_demo_is_entered_by_role_and_only_here(settings: Settings) -> None:
    for demo, base, status in (
        (True, HERE, 303),
        (True, "http://plant.example", 403),
        (False, HERE, 403),
    ):
        app = create_app(settings, demo)
        with TestClient(app, base_url=base, follow_redirects=False) as client:
            app.state.services.access.people_of_demo()
            for role in ("planner", "purchasing", "accountant", "admin"):
                assert client.post("/sign-in", data={"role": role}).status_code == status
            assert client.post("/sign-in", data={"role": "station"}).status_code == 403
            if status == 303:
                enter_demo(client, "accountant")
                assert client.get("/session").json()["role"] == "accountant"
            # nobody of the demo can be anybody elsewhere
            told = {"name": "Ines Kolb", "password": "Ines Kolb Ines Kolb"}
            assert client.post("/session", json=told).status_code == 401


def test_pages_lead_nowhere_else(app: Any, link: str) -> None:
    enter(new_client(app), f"/set-up/{link}")
    for path, to in (
        ("/pages/days", "/pages/days"),
        ("//elsewhere.example", "/"),
        ("/\\elsewhere.example", "/"),
        ("https://elsewhere.example", "/"),
    ):
        told = {"name": NAME, "password": PASSWORD, "next": path}
        answer = new_client(app).post("/sign-in", data=told)
        assert (answer.status_code, answer.headers["location"]) == (303, to)


@pytest.mark.parametrize("settings", KINDS, indirect=True)
def test_the_trail_tells_who_did_what_and_stays(app: Any, link: str) -> None:
    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    day = post_day(admin)
    new_client(app).post("/session", json={"name": NAME, "password": "wrong and wrong again"})
    answer = admin.delete(f"/days/{day}", headers={"If-Match": "*", "X-Request-ID": "my-request-1"})
    assert answer.status_code == 204
    acts = admin.get("/audit").json()["items"]
    told = [(act["name"], act["act"], act["outcome"]) for act in acts]
    assert told[:4] == [
        (NAME, "day.remove", "done"),
        (NAME, "sign-in", "refused"),
        (NAME, "day.post", "done"),
        (NAME, "set-up", "done"),
    ]
    assert (acts[0]["target"], acts[0]["request"]) == (day, "my-request-1")
    database: Database = app.state.services.database
    for words in ("UPDATE acts SET who_name = 'x'", "DELETE FROM acts"):
        with pytest.raises(DatabaseError, match="only added to"), database.write() as session:
            session.execute(text(words))


def test_what_fails_leaves_no_act(app: Any) -> None:
    """The act and its row in the trail are one transaction."""
    client = new_client(app)
    client.headers.update(signed_in(app, Role.ADMIN))
    client.headers["Cookie"] = client.headers["Cookie"].replace("__Host-", "")
    before = client.get("/audit").json()["items"]
    assert client.post("/days", json={}).status_code == 422
    assert client.delete(f"/days/{'0' * 32}", headers={"If-Match": "*"}).status_code == 404
    assert client.get("/audit").json()["items"] == before


def test_secrets_are_kept_as_digests_alone(app: Any, link: str) -> None:
    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    id = admin.post("/stations", json={"name": "Saw 1"}).json()["id"]
    code = admin.post(f"/stations/{id}/code").json()["code"]
    key = new_client(app).post("/pair", json={"code": code}).json()["key"]
    password_link = admin.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()
    secrets = [
        link,
        PASSWORD,
        read_code(code),
        key,
        admin.cookies["cutopt"],
        admin.headers["X-CSRF-Token"],
        password_link["path"].rsplit("/", 1)[1],
    ]
    database: Database = app.state.services.database
    with database.read() as session:
        names = session.execute(text("SELECT name FROM sqlite_master WHERE type = 'table'"))
        whole = "\n".join(
            str(row)
            for name in names.scalars().all()
            for row in session.execute(text(f"SELECT * FROM {name}")).all()
        )
    assert digest(key) in whole
    assert "$argon2id$" in whole
    for secret in secrets:
        assert secret not in whole


def test_many_tries_at_once_are_no_way_around(app: Any, link: str) -> None:
    """A try is counted before it is known how it ends."""
    assert set_up(new_client(app), link).status_code == 201
    told = {"name": NAME, "password": "wrong and wrong again"}
    with ThreadPoolExecutor(12) as pool:
        answers = list(
            pool.map(lambda _: new_client(app).post("/session", json=told).status_code, range(12))
        )
    assert sorted(answers) == [401] * 5 + [429] * 7


def test_a_whole_shift_signs_in_from_one_address(app: Any, link: str) -> None:
    """What comes right does not count: forty people behind one router are let in."""
    assert set_up(new_client(app), link).status_code == 201
    told = {"name": NAME, "password": PASSWORD}
    assert {new_client(app).post("/session", json=told).status_code for _ in range(40)} == {201}


def test_a_program_reads_with_a_key_what_its_role_may(app: Any, link: str) -> None:
    """A script of the accountant's: a bearer key, no cookie, no token; never an admin's rights."""
    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    plan = start_plan(admin, post_day(admin))
    id = admin.post("/stations", json={"name": "Costs", "role": "accountant"}).json()["id"]
    code = admin.post(f"/stations/{id}/code").json()["code"]
    key = new_client(app).post("/pair", json={"code": code}).json()["key"]
    script = new_client(app, "https://plant.example")
    script.headers["Authorization"] = f"Bearer {key}"
    assert script.get("/plans").json()["items"][0]["id"] == plan
    assert script.get(f"/plans/{plan}/yield").status_code == 409  # allowed, and not planned yet
    assert script.get(f"/plans/{plan}/cut-list").status_code == 403
    assert script.post(f"/plans/{plan}/cancel").status_code == 403
    assert admin.post("/stations", json={"name": "All", "role": "admin"}).status_code == 422


def test_what_the_first_release_kept_belongs_to_the_plant_of_its_days(
    new_database: Callable[[str], str], client_of: Callable[[Settings], TestClient]
) -> None:
    address = new_database("sqlite")
    first_release.make(address)
    client = client_of(Settings(database=address, plans_at_once=0, workers=1))
    services: Services = client.app.state.services  # type: ignore[attr-defined]
    with services.database.read() as session:
        named = session.execute(text("SELECT name FROM plants ORDER BY number")).scalars().all()
        counts = [
            session.execute(
                text(f"SELECT count(*), count(DISTINCT plant_number) FROM {table}")
            ).one()
            for table in ("days", "plans")
        ]
    said = Counter(day["plant"].strip() for day in first_release.ROWS["days"])
    assert named[0] in [name for name, count in said.items() if count == max(said.values())]
    assert all(rows and plants == 1 for rows, plants in counts)


def test_the_link_is_printed_while_there_is_nobody(
    app: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each start tells one, for the one before may be lost; any is good, and then none is."""
    services: Services = app.state.services
    links = []
    for _ in range(2):
        tell_set_up(services, "127.0.0.1", 8000)
        printed = capsys.readouterr().out
        links += re.findall(r"http://127\.0\.0\.1:8000/set-up/([\w-]{43})\n", printed)
    assert len(set(links)) == 2
    assert set_up(new_client(app), links[0]).status_code == 201
    assert set_up(new_client(app), links[1]).status_code == 401
    tell_set_up(services, "127.0.0.1", 8000)
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("kind", KINDS)
def test_two_who_set_up_at_once_make_one_admin(
    new_database: Callable[[str], str], client_of: Callable[[Settings], TestClient], kind: str
) -> None:
    app = client_of(Settings(database=new_database(kind), plans_at_once=0, workers=1)).app
    services: Services = app.state.services  # type: ignore[attr-defined]
    links = [services.access.set_up_link() for _ in range(4)]
    told = [{"name": f"Name {n}", "link": link} for n, link in enumerate(links)]

    def begin(more: dict[str, Any]) -> int:
        return int(set_up(new_client(app), more["link"], name=more["name"]).status_code)

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(begin, told)) == [201, 401, 401, 401]


def test_who_is_let_out_follows_no_plan_on(
    app: Any, link: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stream that is open ends within seconds; before, it goes on."""
    routes = import_module("api.routes.plans")
    monkeypatch.setattr(routes, "_LOOK", 0.02)
    monkeypatch.setattr(routes, "_LET_IN_EVERY", 0.1)
    admin = new_client(app)
    enter(admin, f"/set-up/{link}")
    plan = start_plan(admin, post_day(admin))
    id = admin.post("/stations", json={"name": "Saw 1"}).json()["id"]
    code = admin.post(f"/stations/{id}/code").json()["code"]
    key = new_client(app).post("/pair", json={"code": code}).json()["key"]
    saw = new_client(app)
    saw.headers["Authorization"] = f"Bearer {key}"
    with ThreadPoolExecutor(1) as pool:
        following = pool.submit(saw.get, f"/plans/{plan}/events")
        time.sleep(1)
        assert not following.done()
        assert admin.post(f"/stations/{id}/end").status_code == 204
        assert "event: ended" not in following.result(10).text
    assert saw.get(f"/plans/{plan}/events").status_code == 401
