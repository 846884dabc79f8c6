"""The typed client against the service that it was made from."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import httpx2
import pytest
from starlette.testclient import TestClient

from api.client import Client, ProblemError
from api.client.calls import ChangedMeanwhileProblem, InputRefusedProblem, NotFoundProblem
from tests.service.days import small_document, small_files


@pytest.fixture
def service(client: TestClient) -> Client:
    return Client(http=client)


def test_a_day_from_post_to_removal(service: Client) -> None:
    day = service.post_day_files(list(small_files().items()), name="monday")
    assert (day.status, day.value["name"], day.value["pieces"]) == (201, "monday", 37)
    assert service.read_day(day.value["id"]).value == day.value
    assert service.read_day(day.value["id"], if_none_match=day.tag).unchanged
    plan = service.start_plan({"days": [day.value["id"]], "seconds": 5})
    ended = service.cancel_plan(plan.value["id"])
    assert ended.value["status"] == "stopped"
    with pytest.raises(ChangedMeanwhileProblem) as caught:
        service.remove_plan(plan.value["id"], if_match=plan.tag)
    assert caught.value.status == 412
    assert service.remove_plan(plan.value["id"], if_match=ended.tag).status == 204
    assert service.remove_day(day.value["id"], if_match=day.tag).value is None
    assert service.list_days().value["items"] == []


def test_pages_of_a_list(service: Client) -> None:
    for _ in range(3):
        service.post_day(small_document())  # type: ignore[arg-type]
    first = service.list_days(limit=2).value
    after = int(str(first["next"]).rpartition("=")[2])
    assert len(first["items"]) == 2
    assert len(service.list_days(limit=2, after=after).value["items"]) == 1


def test_files_in_each_form_and_events(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    service = Client(http=client)
    rows = service.read_stock_order(plan).value["rows"]
    text = service.read_stock_order_csv(plan).value.decode()
    assert len(text.splitlines()) == len(rows) + 1
    assert rows[0]["material"] in text
    assert service.read_plan_document(plan).value["format"] == "cutopt-plan-1"
    events = list(service.follow_plan(plan))
    assert events[-1].kind == "ended"
    assert events[-1].data["status"] == "done"


def test_problems_are_exceptions_of_their_kind(service: Client) -> None:
    with pytest.raises(NotFoundProblem) as missing:
        service.read_day("none/../x")
    assert missing.value.name == "not-found"
    assert missing.value.request
    with pytest.raises(InputRefusedProblem) as refused:
        service.post_day_files([("day.toml", b"plant = 3\n")])
    assert refused.value.faults[0]["wrong"]
    assert "input-refused" in str(refused.value)
    with pytest.raises(NotFoundProblem):
        list(service.follow_plan("0" * 32))


class _Losing(httpx2.BaseTransport):
    """Passes requests on, and loses the answers of some."""

    def __init__(self, client: TestClient, losing: Iterator[bool]) -> None:
        self.client = client
        self.losing = losing
        self.keys: list[str | None] = []

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        self.keys.append(request.headers.get("idempotency-key"))
        answer = self.client.request(
            request.method,
            request.url.path,
            content=request.read(),
            headers={
                name: request.headers[name]
                for name in ("content-type", "idempotency-key")
                if name in request.headers
            },
        )
        if next(self.losing):
            raise httpx2.ReadError("the connection broke")
        return httpx2.Response(answer.status_code, headers=answer.headers, content=answer.content)


@pytest.fixture
def losing(client: TestClient) -> Iterator[Callable[..., tuple[Client, _Losing]]]:
    opened = []

    def make(*losing: bool, tries: int = 5) -> tuple[Client, _Losing]:
        transport = _Losing(client, iter(losing))
        http = httpx2.Client(base_url="http://testserver", transport=transport)
        opened.append(http)
        return Client(http=http, tries=tries, wait=lambda _: None), transport

    yield make
    for http in opened:
        http.close()


def test_answers_that_are_lost_are_asked_for_again(
    client: TestClient, losing: Callable[..., tuple[Client, _Losing]]
) -> None:
    service, transport = losing(True, True, False)
    day = service.post_day(small_document())  # type: ignore[arg-type]
    assert day.replayed
    assert len(transport.keys) == 3
    assert len(set(transport.keys)) == 1
    assert [d["id"] for d in client.get("/days").json()["items"]] == [day.value["id"]]


def test_not_for_ever_and_not_without_a_key(losing: Callable[..., tuple[Client, _Losing]]) -> None:
    service, transport = losing(True, True, tries=2)
    with pytest.raises(httpx2.TransportError):
        service.list_days()
    service, transport = losing(True, False)
    with pytest.raises(httpx2.TransportError):
        service.sign_in({"name": "nobody", "password": "none"})
    assert transport.keys == [None]


def test_what_passes_by_itself_is_waited_for() -> None:
    waited: list[float] = []
    answers = [
        httpx2.Response(503, headers={"Retry-After": "7"}, json={"type": "/problems/busy"}),
        httpx2.Response(200, json={"items": [], "next": None}),
        httpx2.Response(502, text="a proxy's own words"),
    ]
    for answer in answers[:1]:
        answer.headers["content-type"] = "application/problem+json"
    transport = httpx2.MockTransport(lambda _: answers.pop(0))
    with httpx2.Client(base_url="http://x", transport=transport) as http:
        service = Client(http=http, wait=waited.append)
        assert service.list_days().value["items"] == []
        assert waited == [7.0]
        with pytest.raises(ProblemError) as caught:
            service.list_days()
        assert (caught.value.status, caught.value.detail) == (502, "a proxy's own words")


def test_every_call_is_there() -> None:
    from api.client.__main__ import kept

    def names() -> Iterator[str]:
        for item in kept()["paths"].values():
            for operation in item.values():
                yield "".join(
                    f"_{letter.lower()}" if letter.isupper() else letter
                    for letter in operation["operationId"]
                )

    missing: Any = [name for name in names() if not hasattr(Client, name)]
    assert missing == []
