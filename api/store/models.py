"""The tables.

Rows are numbered as they come, and listed in that order; `id` is what the outside calls them.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Text,
    TypeDecorator,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

__all__ = [
    "Base",
    "CurveRow",
    "DayFileRow",
    "DayRow",
    "EventRow",
    "Number",
    "PlanDayRow",
    "PlanFileRow",
    "PlanRow",
    "PlantRow",
    "Utc",
]

#: SQLite numbers rows by itself only where the key is an INTEGER.
Number = BigInteger().with_variant(Integer(), "sqlite")


class Utc(TypeDecorator[datetime]):
    """A moment in UTC. SQLite keeps no zone: it is put back on the way out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment without a zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """What every table shares: names for all constraints, so that migrations can name them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class PlantRow(Base):
    """A plant: days, plans, people and stations belong to one. `zone` is an IANA time zone."""

    __tablename__ = "plants"

    number: Mapped[int] = mapped_column(Number, primary_key=True, autoincrement=True)
    id: Mapped[str] = mapped_column(String(32), unique=True)
    name: Mapped[str] = mapped_column(Text)
    zone: Mapped[str] = mapped_column(String(64))
    unit: Mapped[str] = mapped_column(String(2))
    created: Mapped[datetime] = mapped_column(Utc)


class DayRow(Base):
    """A day as posted, with what a list of days shows of it."""

    __tablename__ = "days"

    number: Mapped[int] = mapped_column(Number, primary_key=True, autoincrement=True)
    id: Mapped[str] = mapped_column(String(32), unique=True)
    plant_number: Mapped[int] = mapped_column(
        ForeignKey("plants.number", ondelete="RESTRICT"), index=True
    )
    name: Mapped[str] = mapped_column(Text)
    plant: Mapped[str] = mapped_column(Text)
    date: Mapped[date]
    unit: Mapped[str] = mapped_column(String(2))
    rows: Mapped[int]
    pieces: Mapped[int] = mapped_column(BigInteger)
    sections: Mapped[list[str]] = mapped_column(JSON)
    materials: Mapped[list[str]] = mapped_column(JSON)
    warnings: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    form: Mapped[str] = mapped_column(String(8))
    digest: Mapped[str] = mapped_column(String(64), index=True)
    created: Mapped[datetime] = mapped_column(Utc)
    files: Mapped[list[DayFileRow]] = relationship(
        order_by="DayFileRow.position", cascade="all, delete-orphan", passive_deletes=True
    )


class DayFileRow(Base):
    """A file of a day, byte for byte as it came."""

    __tablename__ = "day_files"

    day: Mapped[int] = mapped_column(
        ForeignKey("days.number", ondelete="CASCADE"), primary_key=True
    )
    position: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(Text)
    content: Mapped[bytes] = mapped_column(LargeBinary)


class PlanRow(Base):
    """A plan: what was asked, how far it is, who works on it, what came of it.

    `owner` and `lease_until` say which service process plans it; whoever holds no valid lease
    may write nothing. `lease_until` is in seconds of the database's clock.
    """

    __tablename__ = "plans"
    __table_args__ = (
        Index(
            "ix_plans_open",
            "number",
            sqlite_where=text("status IN ('queued', 'running')"),
            postgresql_where=text("status IN ('queued', 'running')"),
        ),
    )

    number: Mapped[int] = mapped_column(Number, primary_key=True, autoincrement=True)
    id: Mapped[str] = mapped_column(String(32), unique=True)
    plant_number: Mapped[int] = mapped_column(
        ForeignKey("plants.number", ondelete="RESTRICT"), index=True
    )
    seconds: Mapped[float] = mapped_column(Float(53))
    seed: Mapped[int] = mapped_column(BigInteger)
    status: Mapped[str] = mapped_column(String(8))
    outcome: Mapped[str | None] = mapped_column(String(16))
    cancel_asked: Mapped[bool] = mapped_column(default=False)
    crashes: Mapped[int] = mapped_column(default=0)
    owner: Mapped[str | None] = mapped_column(String(32))
    lease_until: Mapped[float | None] = mapped_column(Float(53))
    created: Mapped[datetime] = mapped_column(Utc)
    started: Mapped[datetime | None] = mapped_column(Utc)
    ended: Mapped[datetime | None] = mapped_column(Utc)
    progress: Mapped[list[dict[str, Any]]] = mapped_column(JSON, default=list)
    materials: Mapped[list[dict[str, Any]] | None] = mapped_column(JSON(none_as_null=True))
    failure: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    days: Mapped[list[PlanDayRow]] = relationship(
        order_by="PlanDayRow.position", cascade="all, delete-orphan", passive_deletes=True
    )
    curve: Mapped[CurveRow | None] = relationship(
        lazy="joined", cascade="all, delete-orphan", passive_deletes=True
    )


class CurveRow(Base):
    """What makes a row of plans a curve: it is queued, claimed and ended as a plan is.

    It has a table of its own, so that a database made before there were curves lacks nothing.
    """

    __tablename__ = "curves"

    plan: Mapped[int] = mapped_column(
        ForeignKey("plans.number", ondelete="CASCADE"), primary_key=True
    )
    of: Mapped[str] = mapped_column(String(8))


class PlanDayRow(Base):
    """A day of a plan. A day that a plan uses can't be removed."""

    __tablename__ = "plan_days"

    plan: Mapped[int] = mapped_column(
        ForeignKey("plans.number", ondelete="CASCADE"), primary_key=True
    )
    position: Mapped[int] = mapped_column(primary_key=True)
    day_number: Mapped[int] = mapped_column(
        ForeignKey("days.number", ondelete="RESTRICT"), index=True
    )
    day: Mapped[DayRow] = relationship(lazy="joined")


class PlanFileRow(Base):
    """A file of a plan's result."""

    __tablename__ = "plan_files"

    plan: Mapped[int] = mapped_column(
        ForeignKey("plans.number", ondelete="CASCADE"), primary_key=True
    )
    name: Mapped[str] = mapped_column(String(64), primary_key=True)
    content: Mapped[bytes] = mapped_column(LargeBinary)


class EventRow(Base):
    """Something that happened to a plan, for those who follow it."""

    __tablename__ = "plan_events"

    plan: Mapped[int] = mapped_column(
        ForeignKey("plans.number", ondelete="CASCADE"), primary_key=True
    )
    number: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(String(16))
    data: Mapped[dict[str, Any]] = mapped_column(JSON)
