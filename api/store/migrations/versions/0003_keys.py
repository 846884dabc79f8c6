"""Answers that are kept under the keys of their requests."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "request_keys",
        sa.Column("caller", sa.String(80), nullable=False),
        sa.Column("key", sa.String(100), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("headers", sa.JSON(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("created", sa.Float(53), nullable=False),
        sa.PrimaryKeyConstraint("caller", "key", name="pk_request_keys"),
    )
    op.create_index("ix_request_keys_created", "request_keys", ["created"])
