"""Devices that were let in, and invites for more."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables of devices."""
    op.create_table(
        "invite",
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("created", sa.String(32), nullable=False),
        sa.Column("expires", sa.String(32), nullable=False),
        sa.Column("used", sa.String(32), nullable=True),
        sa.PrimaryKeyConstraint("token_hash", name="pk_invite"),
    )
    op.create_table(
        "device",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.String(16), nullable=False),
        sa.Column("created", sa.String(32), nullable=False),
        sa.Column("expires", sa.String(32), nullable=False),
        sa.Column("revoked", sa.String(32), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_device"),
    )
    op.create_index("ix_device_token_hash", "device", ["token_hash"], unique=True)


def downgrade() -> None:
    """Drop them again."""
    for table in ("device", "invite"):
        op.drop_table(table)
