"""Checks of a map beside its lines: what the board laid down again, or four marks, were found to say."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make room for what a check found."""
    with op.batch_alter_table("map_check") as table:
        table.add_column(sa.Column("found", sa.JSON(), nullable=True))


def downgrade() -> None:
    """Leave it out again; checks that are no lines go with it."""
    op.execute("DELETE FROM map_check WHERE found IS NOT NULL")
    with op.batch_alter_table("map_check") as table:
        table.drop_column("found")
