"""The image and the compose file keep their promises, as far as files can tell.

No Docker engine is asked. What is held here: rules of `docker_rules`, each of which is tripped by a
sample too; that what the files name is there; that what is sent to the engine builds a package that
lacks nothing; and that the commands which the files give are commands that the parts understand.
"""

from __future__ import annotations

import json
import os
import re
import runpy
import shutil
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
import yaml

from api.settings import Settings, settings_from, specs
from tests.service.docker_rules import COMPOSE_RULES, DOCKERFILE_RULES, Step, broken, steps

ROOT = Path(__file__).resolve().parents[2]
DOCKER = ROOT / "docker"

GOOD = """
FROM python:3.11-slim AS build
ENV PIP_NO_CACHE_DIR=1
RUN pip install --require-hashes -r lock.txt
FROM python:3.11-slim
USER 10001
HEALTHCHECK --interval=1s --timeout=1s --retries=3 CMD ["ask"]
ENTRYPOINT ["cutopt"]
CMD ["serve"]
"""

#: For each rule what is exchanged in the good sample so that it alone, or it among others, breaks.
BAD_IMAGES = {
    "base-is-pinned": ("FROM python:3.11-slim\n", "FROM python:latest\n"),
    "user-is-not-root": ("USER 10001", "USER root"),
    "user-is-a-number": ("USER 10001", "USER cutopt"),
    "apt-lists-are-removed": (
        "USER 10001",
        "RUN apt-get update && apt-get install -y --no-install-recommends tini\nUSER 10001",
    ),
    "apt-upgrades-nothing": ("USER 10001", "RUN apt-get upgrade -y\nUSER 10001"),
    "apt-installs-no-more-than-asked": (
        "USER 10001",
        "RUN apt-get install tini && rm -rf /var/lib/apt/lists/*\nUSER 10001",
    ),
    "pip-installs-by-hash": ("--require-hashes -r lock.txt", "numpy"),
    "pip-keeps-no-cache": ("ENV PIP_NO_CACHE_DIR=1\n", ""),
    "no-secret-in-env-or-arg": ("USER 10001", "ENV DB_PASSWORD=x\nUSER 10001"),
    "copy-instead-of-add": ("USER 10001", "ADD a /a\nUSER 10001"),
    "no-copy-of-everything": ("USER 10001", "COPY . /app\nUSER 10001"),
    "exec-form": ('CMD ["serve"]', "CMD cutopt serve"),
    "one-cmd": ('CMD ["serve"]', ""),
    "one-entrypoint": ('ENTRYPOINT ["cutopt"]', ""),
    "one-healthcheck": ("HEALTHCHECK", "# HEALTHCHECK"),
    "health-is-timed": ("--retries=3 ", ""),
    "no-sudo-and-no-777": ("USER 10001", "RUN chmod -R 777 /data\nUSER 10001"),
    "no-download-into-a-shell": ("USER 10001", "RUN curl -s http://x | sh\nUSER 10001"),
    "workdir-is-absolute": ("USER 10001", "WORKDIR data\nUSER 10001"),
    "workdir-instead-of-cd": ("USER 10001", "RUN cd /data\nUSER 10001"),
    "words-in-capitals": ("USER 10001", "run true\nUSER 10001"),
    "ports-above-1023": ("USER 10001", "EXPOSE 80\nUSER 10001"),
    "no-build-tools-left": (
        "USER 10001",
        "RUN apt-get install -y --no-install-recommends gcc && rm -rf /var/lib/apt/lists/*\n"
        "USER 10001",
    ),
    "built-in-a-stage-of-its-own": ("FROM python:3.11-slim\n", ""),
}

#: The same for compose files: what is set in the service `service`, or at the top.
BAD_COMPOSES: dict[str, dict[str, Any]] = {
    "images-are-pinned": {"image": "cutopt"},
    "ports-on-this-machine-only": {"ports": ["8080:8080"]},
    "waits-for-health": {"depends_on": {"database": {"condition": "service_started"}}},
    "no-secret-in-the-environment": {"environment": {"PGPASSWORD": "x"}},
    "secrets-are-given": {"environment": {"CUTOPT_METRICS_KEY_FILE": "/run/secrets/metrics_key"}},
    "memory-has-a-limit": {"mem_limit": None},
    "processes-have-a-limit": {"pids_limit": None},
    "starts-again": {"restart": None},
    "has-time-to-stop": {"stop_grace_period": None},
    "gains-no-privileges": {"security_opt": []},
    "logs-have-an-end": {"logging": {}},
    "inner-services-stay-inside": {"ports": []},
}


@pytest.fixture
def dockerfile() -> list[Step]:
    return steps((DOCKER / "Dockerfile").read_text())


@pytest.fixture
def compose() -> dict[str, Any]:
    return dict(yaml.safe_load((DOCKER / "compose.yaml").read_text()))


# The rules, and that they see what they are for


def test_the_image_breaks_no_rule(dockerfile: list[Step]) -> None:
    assert broken(DOCKERFILE_RULES, dockerfile) == {}


def test_the_compose_file_breaks_no_rule(compose: dict[str, Any]) -> None:
    assert broken(COMPOSE_RULES, compose) == {}


@pytest.mark.parametrize("rule", DOCKERFILE_RULES)
def test_each_rule_of_an_image_sees_what_it_is_for(rule: str) -> None:
    assert broken(DOCKERFILE_RULES, steps(GOOD)) == {}
    old, new = BAD_IMAGES[rule]
    assert old in GOOD
    assert rule in broken(DOCKERFILE_RULES, steps(GOOD.replace(old, new)))


@pytest.mark.parametrize("rule", COMPOSE_RULES)
def test_each_rule_of_a_compose_file_sees_what_it_is_for(
    rule: str, compose: dict[str, Any]
) -> None:
    compose["services"]["service"] |= BAD_COMPOSES[rule]
    if rule == "secrets-are-given":
        compose["services"]["service"]["secrets"] = []
    assert rule in broken(COMPOSE_RULES, compose)


def test_what_else_the_rules_see(compose: dict[str, Any]) -> None:
    service = compose["services"]["service"]
    for name, change in (
        ("no-secret-in-the-environment", {"environment": ["A=postgresql://a:b@host/x"]}),
        ("ports-on-this-machine-only", {"ports": [{"target": 8080, "published": 8080}]}),
        ("waits-for-health", {"depends_on": ["database"]}),
        ("gains-no-privileges", {"volumes": ["/var/run/docker.sock:/var/run/docker.sock"]}),
    ):
        changed = {**compose, "services": {**compose["services"], "service": service | change}}
        assert name in broken(COMPOSE_RULES, changed), name


# What the files name


def test_what_is_copied_is_there_and_is_sent(dockerfile: list[Step]) -> None:
    for step in dockerfile:
        if step.word == "COPY" and not step.rest.startswith("--from"):
            for source in step.rest.split()[:-1]:
                assert (ROOT / source).exists(), source
                assert source in sent(), source


def sent() -> set[str]:
    """What is let through to the engine: everything is left out first."""
    lines = (DOCKER / "Dockerfile.dockerignore").read_text().splitlines()
    rules = [line for line in lines if line and not line.startswith("#")]
    assert rules[0] == "*"
    return {line[1:] for line in rules if line.startswith("!")}


def test_what_the_image_needs_beyond_the_lock_is_as_the_tests_have_it() -> None:
    made = runpy.run_path(str(ROOT / ".ci/extras.py"))["extras"](
        *(
            (ROOT / name).read_text()
            for name in ("pyproject.toml", ".ci/lock/run.txt", ".ci/lock/test.txt")
        )
    )
    assert (DOCKER / "extras.txt").read_text() == made, "run: python .ci/extras.py"
    assert {"psycopg", "psycopg-binary", "distributed", "dask", "tornado"} <= {
        line.split("==")[0] for line in made.splitlines()
    }


def test_health_is_asked_at_an_address_that_the_service_has(dockerfile: list[Step]) -> None:
    last = {step.word: step.rest for step in dockerfile if step.stage == 1}
    assert "http://127.0.0.1:8080/readyz" in last["HEALTHCHECK"]
    assert json.loads(last["CMD"]) == ["serve", "--host", "0.0.0.0", "--port", "8080"]
    assert last["EXPOSE"] == "8080"
    assert last["STOPSIGNAL"] == "SIGTERM"
    environment = dict(re.findall(r"(CUTOPT_\w+)=(\S+)", last["ENV"]))
    assert settings_from(environment).log_form == "json"


def test_the_settings_of_the_compose_file_are_ours(compose: dict[str, Any], tmp_path: Path) -> None:
    given = compose["services"]["service"]["environment"]
    known = {spec.variable for spec in specs()}
    assert {name.removesuffix("_FILE") for name in given} <= known
    (tmp_path / "secret").write_text("0123456789abcdef\n")
    read = settings_from(
        {k: str(tmp_path / "secret") if k.endswith("_FILE") else v for k, v in given.items()}
    )
    assert "0123456789abcdef@database/cutopt" in read.address.replace("cutopt:", "")
    assert read.metrics_key
    assert read.scheduler == "tcp://scheduler:8786"
    grace = compose["services"]["service"]["stop_grace_period"]
    assert int(grace.removesuffix("s")) > 2 * Settings().stop_seconds


def test_health_commands_are_programs(compose: dict[str, Any], dockerfile: list[Step]) -> None:
    """What asks for health in Python can at least be read."""
    (asked,) = [s.rest.partition("CMD ")[2] for s in dockerfile if s.word == "HEALTHCHECK"]
    commands = [json.loads(asked)]
    commands += [compose["services"][name]["healthcheck"]["test"][1:] for name in WORKERS]
    for command in commands:
        if command[0] == "python":
            compile(command[2], "health", "exec")


WORKERS = ("scheduler", "worker")
#: What pyproject.toml asks of the build.
SETUPTOOLS = 77
#: What a change is held against, and a service does not read.
FOR_DEVELOPERS = {"api/openapi.json"}


@pytest.mark.parametrize("name", WORKERS)
def test_the_cluster_is_started_by_words_that_it_knows(name: str, compose: dict[str, Any]) -> None:
    pytest.importorskip("distributed")
    service = compose["services"][name]
    words = [*service["entrypoint"], *service["command"]]
    told = subprocess.run(
        [Path(sys.executable).parent / words[0], words[1], "--help"],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    ).stdout
    for word in words:
        if word.startswith("--"):
            assert re.search(rf"{word}\b", told), word


# What is sent builds the whole package


def test_what_is_sent_builds_a_package_that_lacks_nothing(tmp_path: Path) -> None:
    """The last steps of the image's build, in a clean folder that holds only what is sent."""
    if int(version("setuptools").split(".")[0]) < SETUPTOOLS:
        pytest.skip(f"setuptools is older than {SETUPTOOLS}: install .ci/lock/build.txt")
    context, target = tmp_path / "context", tmp_path / "target"
    ignored = shutil.ignore_patterns("__pycache__", "*.pyc")
    for name in ("pyproject.toml", "README.md", "LICENSE", "cutopt", "api"):
        assert name in sent()
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, context / name, ignore=ignored)
        else:
            context.mkdir(exist_ok=True)
            shutil.copy(source, context)
    wanted = {
        path.relative_to(context).as_posix()
        for room in ("cutopt", "api")
        for path in (context / room).rglob("*")
        if path.is_file()
    }
    install = (
        "-m pip --disable-pip-version-check install --quiet --no-index --no-deps "
        "--no-build-isolation --no-compile --target"
    )
    subprocess.run(
        [sys.executable, *install.split(), str(target), "."],
        cwd=context,
        check=True,
        capture_output=True,
        timeout=120,
    )
    there = {p.relative_to(target).as_posix() for p in target.rglob("*") if p.is_file()}
    assert wanted - there <= FOR_DEVELOPERS
    start = "import sys, cutopt.cli; sys.exit(cutopt.cli.main())"
    environment = {k: v for k, v in os.environ.items() if not k.startswith("CUTOPT_")}
    told = subprocess.run(
        [sys.executable, "-c", start, "serve", "--check"],
        cwd=tmp_path,
        env={**environment, "PYTHONPATH": str(target)},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert "CUTOPT_DATABASE=sqlite:///cutopt.sqlite3" in told.stdout
