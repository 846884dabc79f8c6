"""The tables of the first release: days, plans, curves, and what belongs to them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _number() -> sa.types.TypeEngine[int]:
    """What rows are numbered by: SQLite numbers by itself only where the key is an INTEGER."""
    return sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _moment() -> sa.DateTime:
    return sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "days",
        sa.Column("number", _number(), autoincrement=True, nullable=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("plant", sa.Text(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("unit", sa.String(2), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("pieces", sa.BigInteger(), nullable=False),
        sa.Column("sections", sa.JSON(), nullable=False),
        sa.Column("materials", sa.JSON(), nullable=False),
        sa.Column("warnings", sa.JSON(), nullable=False),
        sa.Column("form", sa.String(8), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("created", _moment(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_days"),
        sa.UniqueConstraint("id", name="uq_days_id"),
    )
    op.create_index("ix_days_digest", "days", ["digest"])
    op.create_table(
        "plans",
        sa.Column("number", _number(), autoincrement=True, nullable=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("seconds", sa.Float(53), nullable=False),
        sa.Column("seed", sa.BigInteger(), nullable=False),
        sa.Column("status", sa.String(8), nullable=False),
        sa.Column("outcome", sa.String(16)),
        sa.Column("cancel_asked", sa.Boolean(), nullable=False),
        sa.Column("crashes", sa.Integer(), nullable=False),
        sa.Column("owner", sa.String(32)),
        sa.Column("lease_until", sa.Float(53)),
        sa.Column("created", _moment(), nullable=False),
        sa.Column("started", _moment()),
        sa.Column("ended", _moment()),
        sa.Column("progress", sa.JSON(), nullable=False),
        sa.Column("materials", sa.JSON(none_as_null=True)),
        sa.Column("failure", sa.JSON(none_as_null=True)),
        sa.PrimaryKeyConstraint("number", name="pk_plans"),
        sa.UniqueConstraint("id", name="uq_plans_id"),
    )
    is_open = sa.text("status IN ('queued', 'running')")
    op.create_index(
        "ix_plans_open", "plans", ["number"], sqlite_where=is_open, postgresql_where=is_open
    )
    op.create_table(
        "day_files",
        sa.Column("day", _number(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("day", "position", name="pk_day_files"),
        sa.ForeignKeyConstraint(
            ["day"], ["days.number"], name="fk_day_files_day_days", ondelete="CASCADE"
        ),
    )
    make_curves()
    op.create_table(
        "plan_days",
        sa.Column("plan", _number(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("day_number", _number(), nullable=False),
        sa.PrimaryKeyConstraint("plan", "position", name="pk_plan_days"),
        sa.ForeignKeyConstraint(
            ["plan"], ["plans.number"], name="fk_plan_days_plan_plans", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["day_number"],
            ["days.number"],
            name="fk_plan_days_day_number_days",
            ondelete="RESTRICT",
        ),
    )
    op.create_index("ix_plan_days_day_number", "plan_days", ["day_number"])
    op.create_table(
        "plan_files",
        sa.Column("plan", _number(), nullable=False),
        sa.Column("name", sa.String(64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("plan", "name", name="pk_plan_files"),
        sa.ForeignKeyConstraint(
            ["plan"], ["plans.number"], name="fk_plan_files_plan_plans", ondelete="CASCADE"
        ),
    )
    op.create_table(
        "plan_events",
        sa.Column("plan", _number(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("plan", "number", name="pk_plan_events"),
        sa.ForeignKeyConstraint(
            ["plan"], ["plans.number"], name="fk_plan_events_plan_plans", ondelete="CASCADE"
        ),
    )


def make_curves() -> None:
    """The one table that a database of the first release may still lack."""
    op.create_table(
        "curves",
        sa.Column("plan", _number(), nullable=False),
        sa.Column("of", sa.String(8), nullable=False),
        sa.PrimaryKeyConstraint("plan", name="pk_curves"),
        sa.ForeignKeyConstraint(
            ["plan"], ["plans.number"], name="fk_curves_plan_plans", ondelete="CASCADE"
        ),
    )
