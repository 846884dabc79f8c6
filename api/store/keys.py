"""Answers that are kept under the keys of their requests, so that none is carried out twice."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, Float, LargeBinary, String, delete, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from api.store.models import Base

__all__ = ["KeyRow", "KeyStore"]

_AT_ONCE = 200


class KeyRow(Base):
    """What was answered to one request of one caller.

    `digest` is of the request: the same key may not come with another one. `created` is in seconds
    of the database's clock.
    """

    __tablename__ = "request_keys"

    caller: Mapped[str] = mapped_column(String(80), primary_key=True)
    key: Mapped[str] = mapped_column(String(100), primary_key=True)
    digest: Mapped[str] = mapped_column(String(64))
    status: Mapped[int]
    headers: Mapped[dict[str, Any]] = mapped_column(JSON)
    body: Mapped[bytes] = mapped_column(LargeBinary)
    created: Mapped[float] = mapped_column(Float(53), index=True)


class KeyStore:
    """Keys within one transaction."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def find(self, caller: str, key: str, since: float) -> KeyRow | None:
        """What was answered under a key, unless it is older than `since`."""
        return self._session.scalar(
            select(KeyRow).where(
                KeyRow.caller == caller, KeyRow.key == key, KeyRow.created >= since
            )
        )

    def add(self, row: KeyRow, since: float) -> None:
        """Keep an answer; what is older than `since` is forgotten.

        Raises IntegrityError where the same key was answered meanwhile: on a PostgreSQL once the
        other transaction has ended.
        """
        old = KeyRow.created < since
        self._forget(old, KeyRow.caller == row.caller, KeyRow.key == row.key)
        # What another transaction is forgetting already is left to it, so that no two wait for
        # each other.
        some = (
            select(KeyRow.caller, KeyRow.key)
            .where(old)
            .limit(_AT_ONCE)
            .with_for_update(skip_locked=True)
        )
        for caller, key in self._session.execute(some).all():
            self._forget(KeyRow.caller == caller, KeyRow.key == key)
        self._session.add(row)
        self._session.flush()

    def _forget(self, *which: Any) -> None:
        self._session.execute(
            delete(KeyRow).where(*which).execution_options(synchronize_session=False)
        )
