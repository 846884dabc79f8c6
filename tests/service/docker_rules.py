"""What a reviewer looks for in an image's and a compose file's text, each rule with its name.

All of it is common practice, no source; where an outside document says the same it is named at the
rule. A rule takes what was read and returns what breaks it, in words; nothing is run.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["COMPOSE_RULES", "DOCKERFILE_RULES", "Step", "broken", "steps"]

_SECRET = re.compile(r"(?i)(password|passwd|secret|token|api_?key|private_?key|credential)")
_HEALTHY = {"service_healthy", "service_completed_successfully"}


@dataclass(frozen=True, slots=True)
class Step:
    """An instruction of a Dockerfile: its stage (0, 1 ...; -1 before the first), word and rest."""

    stage: int
    word: str
    rest: str


def steps(text: str) -> list[Step]:
    """A Dockerfile's instructions, continued lines joined, comments left out."""
    text = re.sub(r"(?m)^\s*#.*\n?", "", text).replace("\\\n", " ")
    found: list[Step] = []
    stage = -1
    for line in filter(None, (line.strip() for line in text.splitlines())):
        word, _, rest = line.partition(" ")
        stage += word.upper() == "FROM"
        found.append(Step(stage, word, " ".join(rest.split())))
    return found


def broken(rules: Mapping[str, Callable[[Any], list[str]]], read: Any) -> dict[str, list[str]]:
    """The rules that are broken, by name, with what breaks each."""
    return {name: told for name, rule in rules.items() if (told := rule(read))}


# An image


def _last(read: list[Step]) -> list[Step]:
    stage = max((step.stage for step in read), default=0)
    return [step for step in read if step.stage == stage]


def _args(read: list[Step]) -> dict[str, str]:
    pairs = (step.rest.partition("=") for step in read if step.word == "ARG")
    return {name: value for name, _, value in pairs}


def _image(step: Step, args: Mapping[str, str]) -> str:
    name = re.sub(r"^--platform=\S+ ", "", step.rest).split()[0]
    return re.sub(r"\$\{?(\w+)\}?", lambda m: args.get(m[1], m[0]), name)


def _pinned_base(read: list[Step]) -> list[str]:
    stages = {s.rest.split()[-1] for s in read if s.word == "FROM" and " AS " in s.rest}
    images = [_image(s, _args(read)) for s in read if s.word == "FROM"]
    return [
        image
        for image in images
        if image not in stages
        and (not re.search(r":[\w.-]*\d|@sha256:[0-9a-f]{64}$", image) or ":latest" in image)
    ]


def _no_root(read: list[Step]) -> list[str]:
    users = [s.rest for s in _last(read) if s.word == "USER"]
    if not users:
        return ["no USER in the last stage"]
    return [user for user in users[-1:] if user.split(":")[0] in ("root", "0")]


def _numeric_user(read: list[Step]) -> list[str]:
    # Kubernetes' runAsNonRoot can only tell from a number.
    users = [s.rest for s in _last(read) if s.word == "USER"]
    return [user for user in users[-1:] if not re.fullmatch(r"\d+(:\d+)?", user)]


def _runs(read: list[Step]) -> list[str]:
    return [s.rest for s in read if s.word == "RUN"]


def _apt_lists(read: list[Step]) -> list[str]:
    return [
        run
        for run in _runs(read)
        if re.search(r"apt(-get)? (update|install)", run) and "rm -rf /var/lib/apt/lists" not in run
    ]


def _apt_upgrades(read: list[Step]) -> list[str]:
    return [run for run in _runs(read) if re.search(r"\bapt(-get)? (dist-)?upgrade\b", run)]


def _apt_quiet(read: list[Step]) -> list[str]:
    return [
        run
        for run in _runs(read)
        for install in re.findall(r"apt(?:-get)? install[^&;|]*", run)
        if "--no-install-recommends" not in install or not re.search(r" -y| --yes", install)
    ]


def _pip_hashes(read: list[Step]) -> list[str]:
    return [
        install
        for run in _runs(read)
        for install in re.findall(r"pip3? install [^&;|]*", run)
        if "--require-hashes" not in install and "--no-deps" not in install
    ]


def _pip_cache(read: list[Step]) -> list[str]:
    told = {s.stage for s in read if s.word == "ENV" and "PIP_NO_CACHE_DIR=1" in s.rest}
    return [
        step.rest
        for step in read
        if step.word == "RUN"
        and re.search(r"pip3? install", step.rest)
        and step.stage not in told
        and "--no-cache-dir" not in step.rest
    ]


def _no_secrets(read: list[Step]) -> list[str]:
    return [
        f"{step.word} {name}"
        for step in read
        if step.word in ("ENV", "ARG")
        for name in re.findall(r"(\w+)(?==| |$)", step.rest)
        if _SECRET.search(name)
    ]


def _copy_not_add(read: list[Step]) -> list[str]:
    return [step.rest for step in read if step.word == "ADD"]


def _no_whole_copy(read: list[Step]) -> list[str]:
    return [
        step.rest
        for step in read
        if step.word == "COPY" and "--from" not in step.rest and "." in step.rest.split()[:-1]
    ]


def _exec_form(read: list[Step]) -> list[str]:
    told = []
    for step in _last(read):
        rest = step.rest
        if step.word == "HEALTHCHECK":
            rest = rest.partition("CMD ")[2]
        if step.word in ("CMD", "ENTRYPOINT", "HEALTHCHECK"):
            try:
                words = json.loads(rest)
            except ValueError:
                words = None
            if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
                told.append(f"{step.word} {step.rest}")
    return told


def _one(word: str) -> Callable[[list[Step]], list[str]]:
    def rule(read: list[Step]) -> list[str]:
        count = sum(step.word == word for step in _last(read))
        return [] if count == 1 else [f"{count} times {word} in the last stage"]

    return rule


def _health(read: list[Step]) -> list[str]:
    found = [s.rest for s in _last(read) if s.word == "HEALTHCHECK"]
    if not found:
        return ["no HEALTHCHECK"]
    options = ("--interval=", "--timeout=", "--retries=")
    return [f"no {option}" for option in options if option not in found[-1]]


def _no_sudo(read: list[Step]) -> list[str]:
    return [run for run in _runs(read) if re.search(r"\bsudo\b|chmod (-R )?0?777", run)]


def _no_piped_download(read: list[Step]) -> list[str]:
    return [run for run in _runs(read) if re.search(r"(curl|wget)[^&;]*\|\s*(ba|z|da)?sh", run)]


def _absolute_workdir(read: list[Step]) -> list[str]:
    return [s.rest for s in read if s.word == "WORKDIR" and not s.rest.startswith(("/", "$"))]


def _no_cd(read: list[Step]) -> list[str]:
    return [run for run in _runs(read) if re.match(r"cd ", run)]


def _capitals(read: list[Step]) -> list[str]:
    return [step.word for step in read if not step.word.isupper()]


def _high_ports(read: list[Step]) -> list[str]:
    ports = [port for s in read if s.word == "EXPOSE" for port in s.rest.split()]
    return [port for port in ports if int(port.split("/")[0]) < 1024]


def _no_tools_left(read: list[Step]) -> list[str]:
    tools = r"apt(-get)? install[^&]*\b(gcc|g\+\+|make|build-essential|git|curl|wget)\b"
    return [s.rest for s in _last(read) if s.word == "RUN" and re.search(tools, s.rest)]


def _two_stages(read: list[Step]) -> list[str]:
    """Several stages: what builds is not what runs."""
    return [] if max((step.stage for step in read), default=0) > 0 else ["one stage only"]


DOCKERFILE_RULES: Mapping[str, Callable[[list[Step]], list[str]]] = {
    "base-is-pinned": _pinned_base,
    "user-is-not-root": _no_root,
    "user-is-a-number": _numeric_user,
    "apt-lists-are-removed": _apt_lists,
    "apt-upgrades-nothing": _apt_upgrades,
    "apt-installs-no-more-than-asked": _apt_quiet,
    "pip-installs-by-hash": _pip_hashes,
    "pip-keeps-no-cache": _pip_cache,
    "no-secret-in-env-or-arg": _no_secrets,
    "copy-instead-of-add": _copy_not_add,
    "no-copy-of-everything": _no_whole_copy,
    "exec-form": _exec_form,
    "one-cmd": _one("CMD"),
    "one-entrypoint": _one("ENTRYPOINT"),
    "one-healthcheck": _one("HEALTHCHECK"),
    "health-is-timed": _health,
    "no-sudo-and-no-777": _no_sudo,
    "no-download-into-a-shell": _no_piped_download,
    "workdir-is-absolute": _absolute_workdir,
    "workdir-instead-of-cd": _no_cd,
    "words-in-capitals": _capitals,
    "ports-above-1023": _high_ports,
    "no-build-tools-left": _no_tools_left,
    "built-in-a-stage-of-its-own": _two_stages,
}


# A compose file


def _services(read: Any) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = read.get("services", {})
    return found


def _each(
    told: Callable[[dict[str, Any]], list[str]],
) -> Callable[[Any], list[str]]:
    """A rule for every service by itself."""

    def rule(read: Any) -> list[str]:
        return [f"{name}: {t}" for name, service in _services(read).items() for t in told(service)]

    return rule


def _image_tag(service: dict[str, Any]) -> list[str]:
    image = str(service.get("image", ""))
    image = re.sub(r"^\$\{\w+:-(.*)\}$", r"\1", image)
    right = re.search(r":[\w.-]*\d[\w.-]*(@sha256:[0-9a-f]{64})?$|@sha256:[0-9a-f]{64}$", image)
    return [] if right and ":latest" not in image else [f"image '{image}'"]


def _ports(service: dict[str, Any]) -> list[str]:
    return [
        f"port {port}"
        for port in service.get("ports", [])
        if not (isinstance(port, str) and re.match(r"(127\.0\.0\.1|\[::1\]):", port))
        and not (isinstance(port, dict) and port.get("host_ip") in ("127.0.0.1", "::1"))
    ]


def _waits(read: Any) -> list[str]:
    told = []
    for name, service in _services(read).items():
        needs = service.get("depends_on", {})
        if isinstance(needs, list):
            told.append(f"{name}: depends_on without conditions")
            continue
        for other, how in needs.items():
            if how.get("condition") not in _HEALTHY:
                told.append(f"{name}: does not wait for {other} to be healthy")
            elif "healthcheck" not in _services(read).get(other, {}):
                told.append(f"{name}: waits for {other}, which has no healthcheck")
    return told


def _environment(service: dict[str, Any]) -> dict[str, str]:
    given = service.get("environment", {})
    if isinstance(given, list):
        given = dict(line.partition("=")[::2] for line in given)
    return {str(name): str(value) for name, value in given.items()}


def _no_secret_value(service: dict[str, Any]) -> list[str]:
    told = []
    for name, value in _environment(service).items():
        if _SECRET.search(name) and not name.endswith("_FILE"):
            told.append(f"{name} is not read from a file")
        elif re.search(r"://[^/\s:@]+:[^@\s]+@", value):
            told.append(f"{name} holds a password in an address")
    return told


def _secrets_are_there(read: Any) -> list[str]:
    known = set(read.get("secrets", {}))
    told = []
    for name, service in _services(read).items():
        given = {s if isinstance(s, str) else s["source"] for s in service.get("secrets", [])}
        told += [f"{name}: no secret '{secret}'" for secret in sorted(given - known)]
        for variable, value in _environment(service).items():
            place = re.fullmatch(r"/run/secrets/(\w+)", value)
            if place and place[1] not in given:
                told.append(f"{name}: {variable} names a secret that it is not given")
    return told


def _lacks(key: str) -> Callable[[dict[str, Any]], list[str]]:
    return lambda service: [] if service.get(key) else [f"no {key}"]


def _no_privileges(service: dict[str, Any]) -> list[str]:
    told = []
    if "no-new-privileges:true" not in service.get("security_opt", []):
        told.append("may gain privileges")
    if service.get("privileged") or service.get("network_mode") == "host":
        told.append("is privileged or on the host's network")
    if any("docker.sock" in str(volume) for volume in service.get("volumes", [])):
        told.append("holds the engine's socket")
    return told


def _logs_end(service: dict[str, Any]) -> list[str]:
    options = service.get("logging", {}).get("options", {})
    return [] if {"max-size", "max-file"} <= set(options) else ["logs grow without end"]


def _inner(read: Any) -> list[str]:
    """Who publishes no port is on inner networks only."""
    inner = {n for n, net in (read.get("networks") or {}).items() if (net or {}).get("internal")}
    return [
        f"{name}: on a network that leads out"
        for name, service in _services(read).items()
        if not service.get("ports") and not set(service.get("networks", ["default"])) <= inner
    ]


COMPOSE_RULES: Mapping[str, Callable[[Any], list[str]]] = {
    "images-are-pinned": _each(_image_tag),
    "ports-on-this-machine-only": _each(_ports),
    "waits-for-health": _waits,
    "no-secret-in-the-environment": _each(_no_secret_value),
    "secrets-are-given": _secrets_are_there,
    "memory-has-a-limit": _each(_lacks("mem_limit")),
    "processes-have-a-limit": _each(_lacks("pids_limit")),
    "starts-again": _each(_lacks("restart")),
    "has-time-to-stop": _each(_lacks("stop_grace_period")),
    "gains-no-privileges": _each(_no_privileges),
    "logs-have-an-end": _each(_logs_end),
    "inner-services-stay-inside": _inner,
}
