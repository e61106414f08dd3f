"""Styles with revisions, lays with results, table maps with checks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "style",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("created", sa.String(32), nullable=False),
        sa.Column("updated", sa.String(32), nullable=False),
        sa.Column("deleted", sa.String(32), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_style"),
    )
    op.create_table(
        "revision",
        sa.Column("style_id", sa.String(32), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("parent", sa.Integer(), nullable=True),
        sa.Column("sheet", sa.JSON(), nullable=False),
        sa.Column("created", sa.String(32), nullable=False),
        sa.ForeignKeyConstraint(["style_id"], ["style.id"], name="fk_revision_style_id"),
        sa.PrimaryKeyConstraint("style_id", "number", name="pk_revision"),
    )
    op.create_table(
        "lay",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("style_id", sa.String(32), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("style", sa.Text(), nullable=False),
        sa.Column("request", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("error", sa.JSON(), nullable=True),
        sa.Column("created", sa.String(32), nullable=False),
        sa.Column("updated", sa.String(32), nullable=False),
        sa.Column("deleted", sa.String(32), nullable=True),
        sa.ForeignKeyConstraint(["style_id"], ["style.id"], name="fk_lay_style_id"),
        sa.PrimaryKeyConstraint("id", name="pk_lay"),
    )
    op.create_index("ix_lay_style_id", "lay", ["style_id"])
    op.create_table(
        "cloth_result",
        sa.Column("lay_id", sa.String(32), nullable=False),
        sa.Column("cloth", sa.String(200), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("result", sa.JSON(), nullable=False),
        sa.Column("updated", sa.String(32), nullable=False),
        sa.ForeignKeyConstraint(["lay_id"], ["lay.id"], name="fk_cloth_result_lay_id"),
        sa.PrimaryKeyConstraint("lay_id", "cloth", name="pk_cloth_result"),
    )
    op.create_table(
        "table_map",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("route", sa.String(16), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.Column("created", sa.String(32), nullable=False),
        sa.Column("used", sa.String(32), nullable=False),
        sa.Column("deleted", sa.String(32), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_table_map"),
    )
    op.create_table(
        "map_check",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("map_id", sa.String(32), nullable=False),
        sa.Column("line", sa.String(64), nullable=False),
        sa.Column("nominal_mm", sa.Double(), nullable=False),
        sa.Column("measured_mm", sa.Double(), nullable=False),
        sa.Column("when", sa.String(32), nullable=False),
        sa.ForeignKeyConstraint(["map_id"], ["table_map.id"], name="fk_map_check_map_id"),
        sa.PrimaryKeyConstraint("id", name="pk_map_check"),
    )
    op.create_table(
        "note",
        sa.Column("name", sa.String(64), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_note"),
    )


def downgrade() -> None:
    """Drop them again."""
    for table in ("note", "map_check", "table_map", "cloth_result", "lay", "revision", "style"):
        op.drop_table(table)
