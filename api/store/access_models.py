"""The tables of access: people, stations, sessions, one-time links, tries, and the audit trail."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import CheckConstraint, Float, ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from api.store.models import Base, Number, PlantRow, Utc

__all__ = ["ActRow", "LinkRow", "PersonRow", "SessionRow", "StationRow", "TryRow"]


class PersonRow(Base):
    """A person; without a plant, one of the group. `folded` is the name as it is looked for."""

    __tablename__ = "people"

    number: Mapped[int] = mapped_column(Number, primary_key=True, autoincrement=True)
    id: Mapped[str] = mapped_column(String(32), unique=True)
    plant_number: Mapped[int | None] = mapped_column(
        ForeignKey("plants.number", ondelete="RESTRICT"), index=True
    )
    name: Mapped[str] = mapped_column(String(80))
    folded: Mapped[str] = mapped_column(String(240), unique=True)
    role: Mapped[str] = mapped_column(String(16))
    password: Mapped[str | None] = mapped_column(Text)
    active: Mapped[bool]
    created: Mapped[datetime] = mapped_column(Utc)
    plant: Mapped[PlantRow | None] = relationship(lazy="joined")


class StationRow(Base):
    """A saw's screen or a program, of one plant; `key` is the digest of its key."""

    __tablename__ = "stations"

    number: Mapped[int] = mapped_column(Number, primary_key=True, autoincrement=True)
    id: Mapped[str] = mapped_column(String(32), unique=True)
    plant_number: Mapped[int] = mapped_column(
        ForeignKey("plants.number", ondelete="RESTRICT"), index=True
    )
    name: Mapped[str] = mapped_column(String(80))
    role: Mapped[str] = mapped_column(String(16))
    key: Mapped[str | None] = mapped_column(String(64), unique=True)
    active: Mapped[bool]
    created: Mapped[datetime] = mapped_column(Utc)
    plant: Mapped[PlantRow] = relationship(lazy="joined", innerjoin=True)


class SessionRow(Base):
    """A browser that is signed in. Moments are in seconds of the database's clock."""

    __tablename__ = "sessions"
    __table_args__ = (
        CheckConstraint(
            "(person_number IS NULL) <> (station_number IS NULL)", name="ck_sessions_of_one"
        ),
    )

    token: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_number: Mapped[int | None] = mapped_column(
        ForeignKey("people.number", ondelete="CASCADE"), index=True
    )
    station_number: Mapped[int | None] = mapped_column(
        ForeignKey("stations.number", ondelete="CASCADE"), index=True
    )
    seen: Mapped[float] = mapped_column(Float(53))
    idle: Mapped[float] = mapped_column(Float(53))
    ends: Mapped[float] = mapped_column(Float(53), index=True)
    person: Mapped[PersonRow | None] = relationship(lazy="joined")
    station: Mapped[StationRow | None] = relationship(lazy="joined")


class LinkRow(Base):
    """A secret that is good once: to set up, to choose a password, to pair a station."""

    __tablename__ = "links"

    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    kind: Mapped[str] = mapped_column(String(8))
    person_number: Mapped[int | None] = mapped_column(
        ForeignKey("people.number", ondelete="CASCADE"), index=True
    )
    station_number: Mapped[int | None] = mapped_column(
        ForeignKey("stations.number", ondelete="CASCADE"), index=True
    )
    ends: Mapped[float] = mapped_column(Float(53))


class TryRow(Base):
    """How often something was tried since `begun`, and until when it may not be tried again."""

    __tablename__ = "tries"

    of: Mapped[str] = mapped_column(String(80), primary_key=True)
    begun: Mapped[float] = mapped_column(Float(53), index=True)
    count: Mapped[int]
    until: Mapped[float] = mapped_column(Float(53))


class ActRow(Base):
    """Who did what to what, and what came of it. Rows are added, never changed or removed."""

    __tablename__ = "acts"

    number: Mapped[int] = mapped_column(Number, primary_key=True, autoincrement=True)
    moment: Mapped[datetime] = mapped_column(Utc)
    who: Mapped[str] = mapped_column(String(8))
    who_number: Mapped[int | None] = mapped_column(Number)
    who_name: Mapped[str] = mapped_column(String(80))
    act: Mapped[str] = mapped_column(String(32))
    target: Mapped[str] = mapped_column(String(64))
    plant_number: Mapped[int | None] = mapped_column(
        ForeignKey("plants.number", ondelete="RESTRICT"), index=True
    )
    request: Mapped[str] = mapped_column(String(80))
    outcome: Mapped[str] = mapped_column(String(16))
