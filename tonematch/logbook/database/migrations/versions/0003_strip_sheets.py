"""Sheets of test strips, so that a photographed one can be read back another day."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Apply this step."""
    op.create_table(
        "strip_sheets",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("strips", sa.JSON(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_strip_sheets_piece_id"),
        sa.PrimaryKeyConstraint("id", name="pk_strip_sheets"),
    )
    op.create_index("ix_strip_sheets_piece_id", "strip_sheets", ["piece_id"])
