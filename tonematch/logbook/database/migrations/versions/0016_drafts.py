"""What lies on the bench and is not kept yet: photographs, marks and answers of a piece."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"


def upgrade() -> None:
    """Apply this step."""
    op.create_table(
        "drafts",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_drafts_piece_id"),
        sa.PrimaryKeyConstraint("id", name="pk_drafts"),
        sa.UniqueConstraint("piece_id", "name", name="uq_drafts_piece_id_name"),
    )
