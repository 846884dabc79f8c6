"""Operations that will go away say so: RFC 9745 (Deprecation), RFC 8594 (Sunset)."""

from __future__ import annotations

from datetime import date, timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from api.edge import HeadAsGet
from api.routes.deprecation import LEAST_DAYS, Deprecations, deprecated
from tests.service.test_description import operations

SINCE, SUNSET = date(2026, 12, 1), date(2027, 6, 30)


@pytest.fixture
def app() -> FastAPI:
    app = FastAPI()
    extra = {"x-more": 1}

    @app.get("/old", **deprecated(SINCE, SUNSET, "/new", extra))
    def old(fail: bool = False) -> str:
        if fail:
            raise ValueError("no")
        return "old"

    @app.get("/new")
    def new() -> str:
        return "new"

    @app.exception_handler(ValueError)
    def failed(request: Any, error: ValueError) -> Any:
        from starlette.responses import PlainTextResponse

        return PlainTextResponse("no", 400)

    app.add_middleware(Deprecations)
    app.add_middleware(HeadAsGet)
    return app


@pytest.mark.parametrize(
    ("method", "path"), [("GET", "/old"), ("HEAD", "/old"), ("GET", "/old?fail=1")]
)
def test_every_answer_tells_since_when_and_until_when(app: FastAPI, method: str, path: str) -> None:
    with TestClient(app) as client:
        answer = client.request(method, path)
    assert answer.headers["deprecation"] == "@1796083200"  # date -u -d 2026-12-01 +%s
    assert answer.headers["sunset"] == "Wed, 30 Jun 2027 00:00:00 GMT"
    assert parsedate_to_datetime(answer.headers["sunset"]).date() == SUNSET
    assert answer.headers["link"] == '</new>; rel="successor-version"'


def test_others_tell_nothing(app: FastAPI) -> None:
    with TestClient(app) as client:
        for path in ("/new", "/none"):
            headers = client.get(path).headers
            assert not {"deprecation", "sunset", "link"} & set(headers)


def test_the_description_tells_it_too(app: FastAPI) -> None:
    described = app.openapi()["paths"]["/old"]["get"]
    assert described["deprecated"] is True
    assert described["x-sunset"] == "2027-06-30"
    assert described["x-more"] == 1


def test_there_is_time_enough() -> None:
    with pytest.raises(ValueError, match="less than 180 days"):
        deprecated(SINCE, SINCE + timedelta(LEAST_DAYS - 1), "/new")


def test_the_service_marks_and_tells_alike(client: TestClient) -> None:
    """Whatever the service describes as going away bears the whole mark, and has a successor."""
    description = client.get("/openapi.json").json()
    for path, method, operation in operations(description):
        marks = {"x-deprecated-since", "x-sunset", "x-instead"} & set(operation)
        assert len(marks) == (3 if operation.get("deprecated") else 0), f"{method} {path}"
        if marks:
            assert operation["x-instead"] in description["paths"], f"{method} {path}"
    layers = [layer.cls for layer in client.app.user_middleware]  # type: ignore[attr-defined]
    assert Deprecations in layers
