"""What was said of pairs of golds by eye, and what was measured."""

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"


def upgrade() -> None:
    """Apply this step."""
    op.create_table(
        "judgements",
        sa.Column("way", sa.String(), nullable=False),
        sa.Column("ways_read", sa.JSON(), nullable=False),
        sa.Column("far", sa.String(), nullable=False),
        sa.Column("far_read", sa.String(), nullable=False),
        sa.Column("layer", sa.String(), nullable=False),
        sa.Column("laid", sa.String(), nullable=False),
        sa.Column("sum", sa.String(), nullable=False, server_default=""),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_judgements"),
    )
