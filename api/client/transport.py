"""What all calls share: keys, repeats, problems as exceptions, replies with their tags."""

from __future__ import annotations

import json
import time
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, Self, TypeVar, cast
from urllib.parse import quote

import httpx2

__all__ = ["Event", "Files", "ProblemError", "Reply", "Transport"]

T = TypeVar("T")

#: Files of a multipart body: name and content.
Files = Sequence[tuple[str, bytes]]

_PROBLEM = "application/problem+json"
_KEY = "Idempotency-Key"
#: Problems that pass by themselves.
_PASSING = {"busy", "key-in-flight", "not-ready", "too-many"}
_LONGEST_WAIT = 30.0


class ProblemError(Exception):
    """A problem that the service answered with (RFC 9457)."""

    def __init__(self, status: int, document: Mapping[str, Any]) -> None:
        self.status = status
        self.document = document
        self.name = str(document.get("type", "")).rpartition("/")[2]
        self.detail = str(document.get("detail", ""))
        self.faults: list[dict[str, Any]] = list(document.get("faults", []))
        #: The request's id, to be found in the service's log.
        self.request = document.get("request")
        super().__init__(f"{status} {self.name}: {self.detail}")


@dataclass(frozen=True, slots=True)
class Reply(Generic[T]):
    """An answer: what it says, and what its headers say of it."""

    status: int
    headers: Mapping[str, str]
    content: bytes
    read: Callable[[bytes], Any]

    @property
    def value(self) -> T:
        """What it says, as the description has it."""
        return cast(T, self.read(self.content))

    @property
    def tag(self) -> str:
        """What tells this state from every other, for If-Match; blank where there is none."""
        return self.headers.get("etag", "")

    @property
    def replayed(self) -> bool:
        """Whether it had been answered to the same key before."""
        return self.headers.get("idempotent-replay") == "true"

    @property
    def unchanged(self) -> bool:
        """Whether it is as the caller has it; then there is no content."""
        return self.status == 304


@dataclass(frozen=True, slots=True)
class Event:
    """An event of a stream."""

    id: str
    kind: str
    data: Any


class Transport:
    """Calls of one service.

    Parameters
    ----------
    address
        Where it is, such as http://127.0.0.1:8000.
    key
        A station's key; none where `http` brings a session.
    http
        A client to use instead of one of its own, with its address and headers.
    tries
        How often a call is tried at most, where the connection fails or the service has no room.
        What takes a key is given one, so that it is carried out once however often it is sent;
        what changes something and takes none is not sent again where no answer came.
    wait
        Waits so many seconds.
    """

    #: Problems by name; the generated class fills it.
    problems: ClassVar[Mapping[str, type[ProblemError]]] = {}

    def __init__(
        self,
        address: str = "",
        *,
        key: str | None = None,
        http: httpx2.Client | None = None,
        tries: int = 5,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        headers = {} if key is None else {"Authorization": f"Bearer {key}"}
        self._own = http is None
        self._http = http or httpx2.Client(base_url=address, headers=headers, timeout=30)
        self._tries = max(tries, 1)
        self._wait = wait

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the connections, where they are its own."""
        if self._own:
            self._http.close()

    def call(
        self,
        method: str,
        path: str,
        places: Mapping[str, str],
        *,
        query: Mapping[str, Any] | None = None,
        headers: Mapping[str, str | None] | None = None,
        body: Any = None,
        files: Files | None = None,
        read: Callable[[bytes], Any] = json.loads,
    ) -> Reply[Any]:
        """Ask, again where it is worth it. Raises ProblemError, or httpx2.TransportError."""
        sent = {name: value for name, value in (headers or {}).items() if value is not None}
        if headers is not None and _KEY in headers:
            sent.setdefault(_KEY, uuid.uuid4().hex)
        repeatable = method == "GET" or _KEY in sent
        asked = {name: value for name, value in (query or {}).items() if value is not None}
        address = path.format(**{name: quote(value, safe="") for name, value in places.items()})
        more: dict[str, Any] = {} if body is None else {"json": body}
        if files is not None:
            more["files"] = [("files", (name, content)) for name, content in files]
        for number in range(1, self._tries + 1):
            last = number == self._tries
            try:
                answer = self._http.request(method, address, params=asked, headers=sent, **more)
            except httpx2.TransportError:
                if last or not repeatable:
                    raise
                self._wait(min(0.2 * 2**number, _LONGEST_WAIT))
                continue
            if answer.status_code < 400:
                break
            problem = self._problem(answer)
            if last or problem.name not in _PASSING:
                raise problem
            told = answer.headers.get("retry-after", "1")
            self._wait(min(float(told) if told.isdecimal() else 1.0, _LONGEST_WAIT))
        return Reply(answer.status_code, answer.headers, answer.content, read)

    def stream(
        self, path: str, places: Mapping[str, str], headers: Mapping[str, str | None]
    ) -> Iterator[Event]:
        """The events of a stream until it ends. Raises ProblemError."""
        sent = {name: value for name, value in headers.items() if value is not None}
        address = path.format(**{name: quote(value, safe="") for name, value in places.items()})
        with self._http.stream("GET", address, headers=sent, timeout=None) as answer:
            if answer.status_code >= 400:
                answer.read()
                raise self._problem(answer)
            fields: dict[str, str] = {}
            for line in answer.iter_lines():
                name, _, value = line.partition(": ")
                if line and name:
                    fields[name] = value
                elif not line and "data" in fields:
                    yield Event(
                        fields.get("id", ""), fields.get("event", ""), json.loads(fields["data"])
                    )
                    fields = {}

    def _problem(self, answer: httpx2.Response) -> ProblemError:
        kind = answer.headers.get("content-type", "").partition(";")[0]
        document: Mapping[str, Any] = {"detail": answer.text[:200]}
        if kind == _PROBLEM:
            document = answer.json()
        name = str(document.get("type", "")).rpartition("/")[2]
        return self.problems.get(name, ProblemError)(answer.status_code, document)
