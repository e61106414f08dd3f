"""Cuttings: where the walk along the table stands, and the ledger's marks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table of cuttings."""
    op.create_table(
        "cutting",
        sa.Column("lay_id", sa.String(32), nullable=False),
        sa.Column("cloth", sa.String(200), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.Column("updated", sa.String(32), nullable=False),
        sa.ForeignKeyConstraint(["lay_id"], ["lay.id"], name="fk_cutting_lay_id"),
        sa.PrimaryKeyConstraint("lay_id", "cloth", name="pk_cutting"),
    )


def downgrade() -> None:
    """Drop it again."""
    op.drop_table("cutting")
