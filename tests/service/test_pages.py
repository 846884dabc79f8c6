"""The pages: each role's work in its language, the plant's zone and unit; nothing else runs."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.access.caller import CSRF_HEADER
from api.access.rights import Role
from api.pages.sending import merged, pack, unpack
from api.pages.words import LANGUAGES, Words, best_language, texts_of
from api.settings import Settings
from tests.service.conftest import post_day, signed_in, start_curve, start_plan
from tests.service.days import small_document, small_files

TEMPLATES = Path(__file__).parents[2] / "api" / "pages" / "templates"
CODE = TEMPLATES.parent
PAGE = {"Accept": "text/html"}


# Texts


def test_every_language_has_the_same_texts() -> None:
    first = texts_of(LANGUAGES[0])
    for language in LANGUAGES[1:]:
        other = texts_of(language)
        assert list(other) == list(first)
        for key, text in first.items():
            assert _places(other[key]) == _places(text), key
            assert other[key].strip(), key
    assert len(first) > 200


def _places(text: str) -> list[str]:
    return sorted(re.findall(r"\{(\w*)\}", text))


def test_translated_texts_differ() -> None:
    """What is equal in both is a word of both: names, signs and measures."""
    first, other = texts_of("en"), texts_of("es")
    same = {key for key in first if first[key] == other[key]}
    assert same <= {"layout.product", "column.material", "order.board_feet", "day.materials.one"}


@pytest.mark.parametrize("template", sorted(TEMPLATES.glob("*.html")), ids=lambda path: path.name)
def test_no_template_holds_a_text_of_its_own(template: Path) -> None:
    text = template.read_text()
    text = re.sub(r"\{% block kind %\}\w+", "", text)  # a class, not a text
    bare = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "", text, flags=re.DOTALL)
    assert re.findall(r"[^\W\d_]{2,}", re.sub(r"<[^>]*>", " ", bare)) == []
    spoken = r'\b(?:alt|title|placeholder|aria-label|aria-description)="([^"]*)"'
    assert [word for word in re.findall(spoken, bare) if re.search(r"[^\W\d_]", word)] == []


def test_every_text_that_is_asked_for_is_there_and_used() -> None:
    sources = [*TEMPLATES.glob("*.html"), *CODE.glob("*.py")]
    text = "\n".join(path.read_text() for path in sources)
    asked = set(re.findall(r"""(?:\bt|words)\(\s*["']([a-z_-]+\.[a-zA-Z_.-]+)["']""", text))
    keys = {key.removesuffix(".one").removesuffix(".other") for key in texts_of("en")}
    assert {key for key in asked if not key.endswith(".")} <= keys
    quoted = set(re.findall(r"""["']([a-z_-]+(?:\.[a-zA-Z_-]+)+)["']""", text))
    # Keys that end with a word from elsewhere: what stands before it is asked for.
    heads = set(re.findall(r"""["'](\w+\.)["'] ~|["'](\w+\.\w+\.)["'] ~|f["'](\w+\.)\{""", text))
    begun = {head for found in heads for head in found if head}
    unused = [key for key in sorted(keys - asked - quoted) if not key.startswith(tuple(begun))]
    assert unused == []
    assert len(begun) > 5


def test_a_count_chooses_its_text() -> None:
    words = Words("es")
    assert words("cuts.sticks", count=1) == "1 pieza"
    assert words("cuts.sticks", count=1200) == "1,200 piezas"
    with pytest.raises(KeyError):
        words("cuts.nothing_of_that_name")


@pytest.mark.parametrize(
    ("accept", "language"),
    [
        ("", "en"),
        ("es", "es"),
        ("es-MX,es;q=0.9,en;q=0.8", "es"),
        ("de, en;q=0.5, es;q=0.7", "es"),
        ("fr;q=x, *", "en"),
        ("es;q=0", "en"),
    ],
)
def test_the_language_is_the_one_asked_for(accept: str, language: str) -> None:
    assert best_language(accept) == language


# Every page


@pytest.fixture
def pages(planned: tuple[TestClient, str]) -> list[str]:
    client, plan = planned
    day = client.get(f"/plans/{plan}").json()["days"][0]
    return [
        *("/", "/pages/days", "/pages/days/new", f"/pages/days/{day}", "/pages/plans"),
        *(f"/pages/plans/{plan}{rest}" for rest in ("", "/order", "/yield", "/cuts", "/cuts/1")),
        *(f"/pages/plans/{plan}/cuts/2", "/pages/yields"),
    ]


@pytest.mark.parametrize("language", LANGUAGES)
def test_pages_run_nothing_but_what_we_serve(
    planned: tuple[TestClient, str], pages: list[str], language: str
) -> None:
    client, _ = planned
    for path in pages:
        answer = client.get(path, headers={"Accept-Language": language})
        assert answer.status_code == 200, (path, answer.text)
        assert answer.headers["content-type"] == "text/html; charset=utf-8"
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert f'<html lang="{language}">' in answer.text
        assert " style=" not in answer.text, path
        assert "<style" not in answer.text
        assert not re.search(r"<[^>]* on[a-z]+=", answer.text)
        assert re.findall(r"<script[^>]*>([^<]*)</script>", answer.text) == [""]
        assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", answer.text)
        identities = re.findall(r' id="([^"]*)"', answer.text)
        assert len(identities) == len(set(identities))
        assert answer.text.count("<h1") == 1


def test_style_and_script_are_kept_for_good_under_their_hash(
    planned: tuple[TestClient, str],
) -> None:
    client, _ = planned
    text = client.get("/").text
    for address, kind in re.findall(r'(?:src|href)="(/static/pages\.[0-9a-f]{16}\.(\w+))"', text):
        answer = client.get(address)
        assert answer.status_code == 200
        assert "immutable" in answer.headers["cache-control"]
        assert kind in {"css", "js"}
    assert client.get("/static/pages.0000000000000000.js").status_code == 404
    assert client.get("/static/words.py").status_code == 404


def test_an_empty_service_says_what_to_do(client: TestClient) -> None:
    text = client.get("/").text
    assert "Send in the first day" in text
    assert 'href="/pages/days/new"' in text
    assert "There is no plan yet." in text
    assert "refresh" not in text
    for path in ("/pages/days", "/pages/plans", "/pages/yields"):
        assert client.get(path).status_code == 200


def test_names_are_shown_as_they_are(client: TestClient) -> None:
    document = small_document()
    document["day"] = {**document["day"], "plant": "<script>alert(1)</script>"}
    answer = client.post("/days", params={"name": '"><b>'}, json=document)
    for path in ("/", "/pages/days", "/pages/days/new", f"/pages/days/{answer.json()['id']}"):
        text = client.get(path).text
        assert "<script>" not in text
        assert "<b>" not in text
        assert "&lt;b&gt;" in text


def test_a_language_is_kept_for_the_browser(client: TestClient) -> None:
    form = {"language": "es", "back": "/pages/days"}
    answer = client.post("/pages/language", data=form, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/pages/days")
    cookie = answer.headers["set-cookie"]
    assert "cutopt_language=es" in cookie
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    for back in ("//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "x"):
        form = {"language": "xx", "back": back}
        answer = client.post("/pages/language", data=form, follow_redirects=False)
        assert answer.headers["location"] == "/"
        assert "set-cookie" not in answer.headers


# The planner


def sent(client: TestClient, files: dict[str, bytes], **fields: Any) -> Any:
    """What a browser sends: files, words, and the empty part of a file field left alone."""
    parts = [("files", (name, content, "text/csv")) for name, content in files.items()]
    parts.append(("folder", ("", b"", "application/octet-stream")))
    return client.post("/pages/days", files=parts, data=fields, follow_redirects=False)


def kept_in(text: str) -> str:
    return "".join(unescape(v) for v in re.findall(r'name="kept" value="([^"]*)"', text))


def cells(text: str, head: str) -> list[list[str]]:
    """The rows of the table whose caption begins with `head`."""
    table = re.search(rf"<caption>{re.escape(head)}.*?</table>", text, re.DOTALL)
    assert table is not None, text
    body = table[0].split("<tbody", 1)[1]
    rows = re.findall(r"<tr.*?>(.*?)</tr>", body, re.DOTALL)
    plain = re.compile(r"<[^>]*>")
    return [
        [
            unescape(plain.sub("", cell)).strip()
            for cell in re.findall(r"<t[dh].*?>(.*?)</t[dh]>", row, re.DOTALL)
        ]
        for row in rows
    ]


def test_a_day_is_sent_in_and_looked_at(client: TestClient) -> None:
    answer = sent(client, small_files(), name="Monday")
    assert answer.status_code == 303
    text = client.get(answer.headers["location"]).text
    assert "Day Monday" in text
    assert "37 pieces" in text
    assert "Alder Cabin, Birch Cabin" in text
    assert [row[0] for row in cells(client.get("/pages/days").text, "Days")] == ["Monday"]


def test_faults_are_told_and_nothing_is_lost(client: TestClient) -> None:
    files = small_files()
    right = files["cuts/walls.csv"]
    files["cuts/walls.csv"] = right.replace(b"2x4-SPF-2", b"2x4-SFP-2", 1).replace(b",9\n", b",x\n")
    answer = sent(client, files, name="Monday")
    assert answer.status_code == 422
    rows = cells(answer.text, "Every fault")
    assert [(row[0], row[1], row[2]) for row in rows] == [
        ("cuts/walls.csv", "2", "material"),
        ("cuts/walls.csv", "3", "qty"),
    ]
    assert "2x4-SFP-2" in rows[0][3]
    assert "2x4-SPF-2" in rows[0][4]
    assert answer.text.count("has faults") == 1
    assert 'value="Monday"' in answer.text
    assert client.get("/days").json()["items"] == []
    # The mended list alone, under its last name: the rest of the day is still there.
    again = sent(client, {"walls.csv": right}, name="Monday", kept=kept_in(answer.text))
    assert again.status_code == 303
    assert "37 pieces" in client.get(again.headers["location"]).text


def test_a_file_can_be_left_out_and_none_at_all_is_told(client: TestClient) -> None:
    answer = sent(client, small_files() | {"cuts/extra.csv": b"no,such,columns\n1,2,3\n"})
    assert answer.status_code == 422
    again = sent(client, {}, kept=kept_in(answer.text), left_out="cuts/extra.csv")
    assert again.status_code == 303
    nothing = sent(client, {})
    assert nothing.status_code == 422
    assert "No file was chosen" in nothing.text


@pytest.mark.parametrize("kept", ["!", "AAAA", pack({"../x": b""})[0]])
def test_what_is_no_packed_attempt_is_refused_as_a_page(client: TestClient, kept: str) -> None:
    answer = sent(client, {}, kept=kept)
    assert answer.status_code == 400
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "That can't be read" in " ".join(unescape(answer.text).split())


def test_packed_files_come_back_and_bombs_do_not() -> None:
    files = {"a.csv": b"\xff\x00", "cuts/b.csv": bytes(range(256)) * 6000}
    packed = pack(files)
    assert max(map(len, packed)) <= 500_000
    assert unpack("".join(packed), 10_000_000) == files
    from starlette.exceptions import HTTPException

    bomb = pack({"a": bytes(10_000_000)})
    with pytest.raises(HTTPException) as told:
        unpack("".join(bomb), 1_000_000)
    assert told.value.status_code == 413


def test_mended_files_take_the_places_of_the_old() -> None:
    kept = {"d/day.toml": b"1", "d/cuts/walls.csv": b"2", "book.xlsx": b"3"}
    mended = merged(kept, {"walls.csv": b"4", "book (1).xlsx": b"5"}, {"d/day.toml"})
    assert mended == {"d/cuts/walls.csv": b"4", "book (1).xlsx": b"5"}


def test_a_plan_is_started_watched_and_stopped(client: TestClient) -> None:
    day = post_day(client)
    assert f'value="{day}"' in client.get("/").text
    form = {"day": [day], "seconds": "30"}
    answer = client.post("/pages/plans", data=form, follow_redirects=False)
    assert answer.status_code == 303
    place = answer.headers["location"]
    text = client.get(place).text
    plan = place.rsplit("/", 1)[-1]
    assert f'data-events="/plans/{plan}/events"' in text
    assert "<noscript><meta" in text
    assert "Being planned:" in client.get("/").text
    answer = client.post(f"{place}/cancel", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, place)
    assert "stopped" in client.get(place).text
    assert client.post(f"{place}/remove", follow_redirects=False).headers["location"] == place
    answer = client.post(f"{place}/remove", data={"sure": "yes"}, follow_redirects=False)
    assert answer.headers["location"] == "/pages/plans"
    assert client.get(place).status_code == 404
    answer = client.post(f"/pages/days/{day}/remove", data={"sure": "yes"}, follow_redirects=False)
    assert answer.headers["location"] == "/pages/days"


@pytest.mark.parametrize(
    "form", [{"day": []}, {"day": ["0" * 32]}, {"day": ["x"], "seconds": "-1"}]
)
def test_a_plan_that_can_not_be_started_is_refused_as_a_page(
    client: TestClient, form: dict[str, Any]
) -> None:
    answer = client.post("/pages/plans", data=form)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "text/html; charset=utf-8"


def test_a_curve_says_what_cost_is_set_against(client: TestClient) -> None:
    day = post_day(client)
    for of, words in (("joints", "joints"), ("setups", "set-ups"), ("lengths", "board lengths")):
        start_curve(client, day, of=of)
        assert f"<td>{words}</td>" in client.get("/pages/plans").text


def test_older_ones_are_a_page_away(client: TestClient) -> None:
    for _ in range(31):
        post_day(client)
    first = client.get("/pages/days").text
    after = re.search(r'href="(/pages/days\?after=\d+)"', first)
    assert after is not None
    assert len(cells(client.get(after[1]).text, "Days")) == 1


# The papers


def table_of(client: TestClient, path: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(client.get(path, headers={"Accept": "text/csv"}).text)))


def test_the_order_has_every_row_and_its_totals(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    rows = table_of(client, f"/plans/{plan}/stock-order")
    text = client.get(f"/pages/plans/{plan}/order").text
    total = sum(Decimal(row["extension"]) for row in rows)
    pieces = sum(int(row["pieces"]) for row in rows)
    assert f"Buy {pieces} pieces for ${total:,.2f}" in text
    body = cells(text, "Stock order")
    assert len(body) == len(rows) + len({row["material"] for row in rows}) + 1
    assert body[-1] == ["All", str(pieces), "", "", "", f"${total:,.2f}"]


def test_yield_and_waste_are_those_of_the_table(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    text = client.get(f"/pages/plans/{plan}/yield").text.replace("\u202f", " ")
    overview = client.get("/pages/yields").text.replace("\u202f", " ")
    for row in table_of(client, f"/plans/{plan}/yield"):
        assert f"{Decimal(row['waste_percent']):.2f} %" in text
        assert f"{Decimal(row['yield_percent']):.2f} %" in text
        assert f"{Decimal(row['waste_percent']):.2f} %" in overview
    rows = table_of(client, "/pages/yields.csv")
    assert {row["plan"] for row in rows} == {plan}
    assert [row["days"] for row in rows] == ["2026-03-02"] * len(rows)


def test_the_cut_list_tells_every_stop(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    first = client.get(f"/pages/plans/{plan}/cuts").text
    assert "2x4-SPF-2" in first
    assert "OSB-7/16" in first
    rows = table_of(client, f"/plans/{plan}/cut-list")
    sticks = client.get(f"/pages/plans/{plan}/cuts/1").text
    for mark in {row["mark"] for row in rows if row["material"] == "2x4-SPF-2"}:
        assert f"<b>{mark}</b>" in sticks
    assert "92-5/8&#34;</td>" in sticks
    assert sticks.count("<svg") == len(
        {row["pattern"] for row in rows if row["material"] == "2x4-SPF-2"}
    )
    sheets = client.get(f"/pages/plans/{plan}/cuts/2").text
    cuts = table_of(client, f"/plans/{plan}/cuts")
    patterns = {(row["pattern"], row["cut"]) for row in cuts}
    assert len(re.findall(r'<th scope="row">\d+</th>', sheets)) == len(patterns)
    assert client.get(f"/pages/plans/{plan}/cuts/9").status_code == 404


def test_measures_and_moments_are_the_plants(
    settings: Settings, planned: tuple[TestClient, str]
) -> None:
    from api.services import Services
    from api.store.access import AccessStore

    client, plan = planned
    services: Services = client.app.state.services  # type: ignore[attr-defined]

    def become(zone: str, unit: str) -> None:
        with services.database.write() as session:
            for row in AccessStore(session).plants():
                row.zone, row.unit = zone, unit

    become("America/Chicago", "mm")
    try:
        text = client.get(f"/pages/plans/{plan}/cuts/1").text
        assert "2352.675 mm" in text
        assert "&#34;</td>" not in text
        assert "Lumber, metres" in client.get(f"/pages/plans/{plan}/yield").text
        assert re.search(r"\d\d:\d\d C[SD]T</time>", client.get("/pages/plans").text)
    finally:
        become("UTC", "in")


# Who may


def as_role(client: TestClient, role: Role) -> Iterator[TestClient]:
    other = TestClient(client.app, raise_server_exceptions=False)
    other.headers.update(signed_in(client.app, role))
    yield other


@pytest.mark.parametrize(
    ("role", "papers", "lead"),
    [
        (Role.PLANNER, {"order", "cuts", "yield"}, "Send in the next day"),
        (Role.PURCHASING, {"order"}, "Buy "),
        (Role.ACCOUNTANT, {"order", "yield"}, "Where the material went:"),
        (Role.STATION, {"cuts"}, "Cut:"),
    ],
)
def test_each_role_is_led_to_its_work(
    planned: tuple[TestClient, str], role: Role, papers: set[str], lead: str
) -> None:
    client, plan = planned
    for other in as_role(client, role):
        text = other.get("/").text
        heading = re.search(r"<h1>(.*?)</h1>", text, re.DOTALL)
        assert heading is not None
        assert heading[1].startswith(lead)
        for paper in ("order", "cuts", "yield"):
            path = f"/pages/plans/{plan}/{paper}"
            assert (f'href="{path}"' in text) == (paper in papers)
            answer = other.get(path)
            assert answer.status_code == (200 if paper in papers else 403)
            assert answer.headers["content-type"] == "text/html; charset=utf-8"


def test_a_form_of_another_page_changes_nothing(client: TestClient) -> None:
    day = post_day(client)
    headers = {k: v for k, v in client.headers.items() if k.lower() != CSRF_HEADER.lower()}
    other = TestClient(client.app, raise_server_exceptions=False)
    other.headers.update(headers)
    assert other.post("/pages/plans", data={"day": day}).status_code == 403
    token = re.search(r'name="csrf" value="([^"]+)"', other.get("/").text)
    assert token is not None
    form = {"day": day, "csrf": token[1]}
    assert other.post("/pages/plans", data=form, follow_redirects=False).status_code == 303


def test_who_is_not_signed_in_is_led_to_sign_in(
    client_of: Callable[..., Any], client: TestClient
) -> None:
    stranger = TestClient(client.app)
    answer = stranger.get("/pages/days", headers=PAGE, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?next=/pages/days"
    assert start_plan(client, post_day(client))


# Those who manage


def test_somebody_is_let_in_by_a_link_shown_once(client: TestClient) -> None:
    form = {"name": "Ivo Lath", "role": "purchasing"}
    text = client.post("/pages/people", data=form).text
    link = re.search(r"<code>http://testserver(/password/[^<]+)</code>", text)
    assert link is not None
    stranger = TestClient(client.app)
    told = {"password": "seven slow green gantries"}
    answer = stranger.post(link[1], data=told, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    rows = cells(client.get("/pages/people").text, "Who is let in")
    row = next(row for row in rows if row[0] == "Ivo Lath")
    assert row[1:3] == ["purchasing", "let in"]
    again = client.post("/pages/people", data=form)
    assert again.status_code == 422
    assert "somebody has this name" in again.text
    assert 'value="Ivo Lath"' in again.text
    person = next(p["id"] for p in client.get("/people").json()["items"] if p["name"] == "Ivo Lath")
    client.post(f"/pages/people/{person}", data={"role": "planner", "active": "no"})
    assert client.get(f"/people/{person}").json()["role"] == "planner"
    assert client.get(f"/people/{person}").json()["active"] is False
    assert client.post(f"/pages/people/{person}", data={"role": "king"}).status_code == 422


def test_a_station_is_paired_by_a_code_and_ended(client: TestClient) -> None:
    assert "no station" in client.get("/pages/stations").text
    client.post("/pages/stations", data={"name": "Saw 1"})
    station = client.get("/stations").json()["items"][0]["id"]
    text = client.post(f"/pages/stations/{station}/code").text
    assert "Pair Saw 1" in text
    assert "<svg" in text
    assert re.search(r"<code>\w{5}-\w{5}</code>", text)
    client.post(f"/pages/stations/{station}/end")
    assert client.get(f"/stations/{station}").json()["active"] is True
    client.post(f"/pages/stations/{station}/end", data={"sure": "yes"})
    assert client.get(f"/stations/{station}").json()["active"] is False
    assert client.post("/pages/stations", data={"name": " "}).status_code == 422


def test_the_plant_sets_its_zone_and_unit(client: TestClient) -> None:
    plant = client.get("/plants").json()["items"][0]["id"]
    form = {"name": "Hask Lake", "zone": "America/Chicago", "unit": "mm"}
    answer = client.post(f"/pages/plants/{plant}", data=form, follow_redirects=False)
    assert answer.status_code == 303
    assert "Hask Lake</a>" in client.get("/").text
    refused = client.post(f"/pages/plants/{plant}", data=form | {"zone": "America/Chicaga"})
    assert refused.status_code == 422
    assert "America/Chicago" in refused.text
    assert client.post(f"/pages/plants/{'0' * 32}", data=form).status_code == 404


def test_the_record_tells_who_did_what(client: TestClient) -> None:
    post_day(client)
    rows = cells(client.get("/pages/audit").text, "The newest first")
    assert any(row[2:4] == ["day.post", "done"] for row in rows)


def test_the_group_names_the_plant_of_a_day(client: TestClient) -> None:
    from tests.service.conftest import plant_in

    second = plant_in(client.app, "Second").id
    other = TestClient(client.app)
    other.headers.update(signed_in(client.app, Role.PLANNER, None))
    assert f'value="{second}"' in other.get("/pages/days/new").text
    answer = sent(other, small_files(), plant=second)
    assert answer.status_code == 303
    assert client.get("/days").json()["items"] == []


def test_a_drawings_own_words_are_in_the_language_of_the_page(
    planned: tuple[TestClient, str],
) -> None:
    client, plan = planned
    text = client.get(f"/pages/plans/{plan}/cuts/2", headers={"Accept-Language": "es"}).text
    drawn = set(re.findall(r">([^<>]+)</text>", text))
    assert {"de fábrica", "eje fuerte"} <= drawn
    assert not drawn & {"waste", "factory edge", "strength axis", "turned", "kept drop"}
    assert not any(word.startswith(("stage ", "part ")) for word in drawn)
    assert "R1-SHEET" in text
