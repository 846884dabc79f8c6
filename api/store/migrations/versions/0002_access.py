"""Plants, people, stations, sessions and the audit trail; days and plans belong to a plant."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _number() -> sa.types.TypeEngine[int]:
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _moment() -> sa.DateTime:
    return sa.DateTime(timezone=True)


def _belongs(table: str, column: str, to: str, ondelete: str) -> sa.ForeignKeyConstraint:
    name = f"fk_{table}_{column}_{to}"
    return sa.ForeignKeyConstraint([column], [f"{to}.number"], name=name, ondelete=ondelete)


def upgrade() -> None:
    """Make the tables; what is there already belongs to one plant, named as its days say."""
    op.create_table(
        "plants",
        sa.Column("number", _number(), autoincrement=True, nullable=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("unit", sa.String(2), nullable=False),
        sa.Column("created", _moment(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_plants"),
        sa.UniqueConstraint("id", name="uq_plants_id"),
    )
    plant = _plant_of_what_is_there()
    for table in ("days", "plans"):
        _give(table, plant)
    _make_people()
    _make_secrets()
    _make_acts()


def _plant_of_what_is_there() -> int | None:
    connection = op.get_bind()
    days = sa.table("days", sa.column("plant"), sa.column("unit"))
    said = sa.func.trim(days.c.plant)
    found = connection.execute(
        sa.select(said, days.c.unit)
        .group_by(said, days.c.unit)
        .order_by(sa.func.count().desc(), said, days.c.unit)
        .limit(1)
    ).first()
    plans = connection.execute(sa.text("SELECT count(*) FROM plans")).scalar_one()
    if found is None and not plans:
        return None
    plants = sa.table(
        "plants",
        sa.column("number", _number()),
        sa.column("id", sa.String()),
        sa.column("name", sa.Text()),
        sa.column("zone", sa.String()),
        sa.column("unit", sa.String()),
        sa.column("created", _moment()),
    )
    name, unit = ("Plant", "in") if found is None else (found[0] or "Plant", found[1])
    connection.execute(
        sa.insert(plants).values(
            id=uuid.uuid4().hex, name=name, zone="UTC", unit=unit, created=datetime.now(UTC)
        )
    )
    return int(connection.execute(sa.text("SELECT max(number) FROM plants")).scalar_one())


def _give(table: str, plant: int | None) -> None:
    op.add_column(table, sa.Column("plant_number", _number(), nullable=True))
    if plant is not None:
        op.execute(sa.update(sa.table(table, sa.column("plant_number"))).values(plant_number=plant))
    with op.batch_alter_table(table) as batch:
        batch.alter_column("plant_number", existing_type=_number(), nullable=False)
        batch.create_foreign_key(
            f"fk_{table}_plant_number_plants",
            "plants",
            ["plant_number"],
            ["number"],
            ondelete="RESTRICT",
        )
    op.create_index(f"ix_{table}_plant_number", table, ["plant_number"])


def _make_people() -> None:
    op.create_table(
        "people",
        sa.Column("number", _number(), autoincrement=True, nullable=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("plant_number", _number()),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("folded", sa.String(240), nullable=False),
        sa.Column("role", sa.String(16), nullable=False),
        sa.Column("password", sa.Text()),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created", _moment(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_people"),
        sa.UniqueConstraint("id", name="uq_people_id"),
        sa.UniqueConstraint("folded", name="uq_people_folded"),
        _belongs("people", "plant_number", "plants", "RESTRICT"),
    )
    op.create_index("ix_people_plant_number", "people", ["plant_number"])
    op.create_table(
        "stations",
        sa.Column("number", _number(), autoincrement=True, nullable=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("plant_number", _number(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("role", sa.String(16), nullable=False),
        sa.Column("key", sa.String(64)),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created", _moment(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_stations"),
        sa.UniqueConstraint("id", name="uq_stations_id"),
        sa.UniqueConstraint("key", name="uq_stations_key"),
        _belongs("stations", "plant_number", "plants", "RESTRICT"),
    )
    op.create_index("ix_stations_plant_number", "stations", ["plant_number"])


def _make_secrets() -> None:
    op.create_table(
        "sessions",
        sa.Column("token", sa.String(64), nullable=False),
        sa.Column("person_number", _number()),
        sa.Column("station_number", _number()),
        sa.Column("seen", sa.Float(53), nullable=False),
        sa.Column("idle", sa.Float(53), nullable=False),
        sa.Column("ends", sa.Float(53), nullable=False),
        sa.PrimaryKeyConstraint("token", name="pk_sessions"),
        sa.CheckConstraint(
            "(person_number IS NULL) <> (station_number IS NULL)", name="ck_sessions_of_one"
        ),
        _belongs("sessions", "person_number", "people", "CASCADE"),
        _belongs("sessions", "station_number", "stations", "CASCADE"),
    )
    op.create_table(
        "links",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("kind", sa.String(8), nullable=False),
        sa.Column("person_number", _number()),
        sa.Column("station_number", _number()),
        sa.Column("ends", sa.Float(53), nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_links"),
        _belongs("links", "person_number", "people", "CASCADE"),
        _belongs("links", "station_number", "stations", "CASCADE"),
    )
    for table in ("sessions", "links"):
        for column in ("person_number", "station_number"):
            op.create_index(f"ix_{table}_{column}", table, [column])
    op.create_index("ix_sessions_ends", "sessions", ["ends"])
    op.create_table(
        "tries",
        sa.Column("of", sa.String(80), nullable=False),
        sa.Column("begun", sa.Float(53), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("until", sa.Float(53), nullable=False),
        sa.PrimaryKeyConstraint("of", name="pk_tries"),
    )
    op.create_index("ix_tries_begun", "tries", ["begun"])


def _make_acts() -> None:
    op.create_table(
        "acts",
        sa.Column("number", _number(), autoincrement=True, nullable=False),
        sa.Column("moment", _moment(), nullable=False),
        sa.Column("who", sa.String(8), nullable=False),
        sa.Column("who_number", _number()),
        sa.Column("who_name", sa.String(80), nullable=False),
        sa.Column("act", sa.String(32), nullable=False),
        sa.Column("target", sa.String(64), nullable=False),
        sa.Column("plant_number", _number()),
        sa.Column("request", sa.String(80), nullable=False),
        sa.Column("outcome", sa.String(16), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_acts"),
        _belongs("acts", "plant_number", "plants", "RESTRICT"),
    )
    op.create_index("ix_acts_plant_number", "acts", ["plant_number"])
    for statement in _KEPT[op.get_bind().dialect.name]:
        op.execute(statement)


#: What is in the trail stays as it is, whoever asks: also to those who reach the database itself.
_KEPT = {
    "sqlite": [
        f"CREATE TRIGGER acts_no_{what.lower()} BEFORE {what} ON acts "
        "BEGIN SELECT RAISE(ABORT, 'the audit trail is only added to'); END"
        for what in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        "CREATE OR REPLACE FUNCTION acts_only_added() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the audit trail is only added to'; END $$",
        "CREATE TRIGGER acts_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON acts "
        "FOR EACH STATEMENT EXECUTE FUNCTION acts_only_added()",
    ],
}
