"""The image and the compose file keep their promises, as far as files can tell.

No Docker engine is asked: what is held here is what a reviewer would look for (common practice, no
source), and that what the files name is there.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
DOCKER = ROOT / "docker"


def instructions() -> list[tuple[str, str]]:
    text = (DOCKER / "Dockerfile").read_text()
    text = re.sub(r"(?m)^\s*#.*\n", "", text).replace("\\\n", " ")
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return [(line.split(None, 1)[0], line.split(None, 1)[1]) for line in lines]


def last_stage() -> list[tuple[str, str]]:
    steps = instructions()
    start = max(i for i, (word, _) in enumerate(steps) if word == "FROM")
    return steps[start:]


@pytest.fixture
def compose() -> dict[str, Any]:
    return dict(yaml.safe_load((DOCKER / "compose.yaml").read_text()))


def test_the_service_is_not_root() -> None:
    users = [rest for word, rest in last_stage() if word == "USER"]
    assert users == ["10001:10001"]
    words = [word for word, _ in last_stage()]
    assert words.index("USER") < words.index("ENTRYPOINT")


def test_everything_is_pinned() -> None:
    for word, rest in instructions():
        if word == "FROM":
            assert re.match(r"python:3\.11-slim-\w+( AS \w+)?$", rest), rest
        for install in re.findall(r"pip install [^&]*", rest):
            assert "--require-hashes" in install or "--no-deps" in install, install
    assert not any(word == "ADD" for word, _ in instructions())


def test_the_driver_is_pinned_as_in_the_tests() -> None:
    def pins(text: str) -> dict[str, tuple[str, ...]]:
        blocks = re.split(r"(?m)^(?=[a-z0-9])", text)
        return {
            block.split("==")[0]: (
                block.split()[0],
                *sorted(re.findall(r"sha256:[0-9a-f]{64}", block)),
            )
            for block in blocks
            if "==" in block.split("\n")[0]
        }

    ours = pins((DOCKER / "postgres.txt").read_text())
    tested = pins((ROOT / ".ci/lock/test.txt").read_text())
    assert set(ours) == {"psycopg", "psycopg-binary"}
    assert ours == {name: tested[name] for name in ours}


def test_what_is_copied_is_there_and_is_sent() -> None:
    sent = {
        line[1:]
        for line in (DOCKER / "Dockerfile.dockerignore").read_text().splitlines()
        if line.startswith("!")
    }
    for word, rest in instructions():
        if word == "COPY" and not rest.startswith("--from"):
            for source in rest.split()[:-1]:
                assert (ROOT / source).exists(), source
                assert source in sent, source


def test_health_is_asked_at_an_address_that_the_service_has() -> None:
    (health,) = [rest for word, rest in last_stage() if word == "HEALTHCHECK"]
    assert "127.0.0.1:8080/readyz" in health
    assert ("CMD", '["serve", "--host", "0.0.0.0", "--port", "8080"]') in last_stage()
    assert ("EXPOSE", "8080") in last_stage()


def test_the_service_waits_for_its_database_and_may_do_little(compose: dict[str, Any]) -> None:
    service, database = compose["services"]["service"], compose["services"]["database"]
    assert service["depends_on"]["database"]["condition"] == "service_healthy"
    assert "pg_isready" in database["healthcheck"]["test"]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert all(port.startswith("127.0.0.1:") for port in service["ports"])
    assert "ports" not in database
    for part in (service, database):
        assert not part["image"].endswith("latest")
        assert ":" in part["image"]
        assert "no-new-privileges:true" in part["security_opt"]


def test_no_password_stands_in_the_files(compose: dict[str, Any]) -> None:
    for service in compose["services"].values():
        for name, value in service["environment"].items():
            if "PASSWORD" in name:
                assert value.startswith("${CUTOPT_DB_PASSWORD:?"), name
            assert "@" not in value or re.search(r"//\w+@", value), "a password in an address"
