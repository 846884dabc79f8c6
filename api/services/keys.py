"""Requests that carry a key are carried out once, however often they come.

A key's answer is written in the transaction of what it answers to: both are kept or neither, also
where the service dies in between. So there is no key without its act, and none that a request which
died holds on to. Problems are not kept: they changed nothing, and the request may come again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, TypeVar

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from api.services.errors import KeyInFlight, KeyUsedOtherwise
from api.store import Database
from api.store.keys import KeyRow, KeyStore

__all__ = ["KEPT_HOURS", "Answer", "Key", "KeyService", "keep", "keep_alone"]

#: How long an answer is kept under its key.
KEPT_HOURS = 24
_KEPT_SECONDS = KEPT_HOURS * 3600.0

View = TypeVar("View")


@dataclass(frozen=True, slots=True)
class Answer:
    """What goes out: its status, headers and body."""

    status: int
    headers: Mapping[str, str]
    body: bytes


@dataclass(frozen=True, slots=True)
class Key:
    """Whose key it is, the key, and the digest of the request that carries it."""

    caller: str
    key: str
    digest: str


@dataclass(slots=True)
class _Claim:
    """What is being carried out: how it will be answered, and the answer once it is kept."""

    key: Key
    answer: Callable[[Any], Answer]
    clock: Callable[[Session], float]
    kept: Answer | None = field(default=None)


class _AnsweredMeanwhile(Exception):  # noqa: N818
    """Another process was quicker; nothing of this one's is kept."""


_claim: ContextVar[_Claim | None] = ContextVar("claim", default=None)


def keep(session: Session, view: object) -> None:
    """Keep the answer to what this transaction does; the last thing that it does.

    Every service calls it where it changes something. It does nothing where the request has no key.
    """
    claim = _claim.get()
    if claim is None:
        return
    answer = claim.answer(view)
    now = claim.clock(session)
    row = KeyRow(
        caller=claim.key.caller,
        key=claim.key.key,
        digest=claim.key.digest,
        status=answer.status,
        headers=dict(answer.headers),
        body=answer.body,
        created=now,
    )
    session.flush()
    try:
        KeyStore(session).add(row, now - _KEPT_SECONDS)
    except IntegrityError as error:
        raise _AnsweredMeanwhile from error
    claim.kept = answer


def keep_alone(database: Database, view: object) -> None:
    """Keep the answer to what changes nothing, where the request has a key."""
    if _claim.get() is not None:
        with database.write() as session:
            keep(session, view)


class KeyService:
    """Answers by key."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._lock = threading.Lock()
        self._flying: set[tuple[str, str]] = set()

    def once(
        self, key: Key, act: Callable[[], View], answer: Callable[[View], Answer]
    ) -> tuple[Answer, bool]:
        """Act and answer, or answer again what was answered; whether it was so.

        Raises
        ------
        KeyUsedOtherwise
            Where the key came with another request.
        KeyInFlight
            Where the same request is being carried out.
        """
        with self._alone(key):
            known = self._known(key)
            if known is not None:
                return known, True
            claim = _Claim(key, answer, self._database.clock)
            mark = _claim.set(claim)
            try:
                act()
            except Exception:
                # Another process may have done it just before, and left nothing to do here.
                known = self._known(key)
                if known is not None:
                    return known, True
                raise
            finally:
                _claim.reset(mark)
        if claim.kept is None:
            raise RuntimeError("a service changed something and kept no answer")
        return claim.kept, False

    @contextmanager
    def _alone(self, key: Key) -> Iterator[None]:
        name = (key.caller, key.key)
        with self._lock:
            if name in self._flying:
                raise KeyInFlight(f"the request with key '{key.key}' is being carried out")
            self._flying.add(name)
        try:
            yield
        finally:
            with self._lock:
                self._flying.discard(name)

    def _known(self, key: Key) -> Answer | None:
        with self._database.read() as session:
            since = self._database.clock(session) - _KEPT_SECONDS
            row = KeyStore(session).find(key.caller, key.key, since)
        if row is None:
            return None
        if row.digest != key.digest:
            raise KeyUsedOtherwise(f"key '{key.key}' came with another request before")
        return Answer(row.status, row.headers, row.body)
