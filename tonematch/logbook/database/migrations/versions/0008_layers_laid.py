"""Layers that were laid and wait for the photograph after them."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Apply this step."""
    op.create_table(
        "layers_laid",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("comparison_id", sa.Integer(), nullable=False),
        sa.Column("layer", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("strength", sa.Double(), nullable=False),
        sa.Column("coats", sa.Integer(), nullable=False),
        sa.Column("technique", sa.String(), nullable=False),
        sa.Column("finish", sa.String(), nullable=False),
        sa.Column("prediction", sa.JSON(), nullable=False),
        sa.Column("cautions", sa.JSON(), nullable=False),
        sa.Column("dry_at", sa.String(), nullable=False),
        sa.Column("ended_at", sa.String(), nullable=True),
        sa.Column("trial_id", sa.Integer(), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_layers_laid_piece_id"),
        sa.ForeignKeyConstraint(
            ["comparison_id"], ["comparisons.id"], name="fk_layers_laid_comparison_id"
        ),
        sa.ForeignKeyConstraint(["trial_id"], ["trials.id"], name="fk_layers_laid_trial_id"),
        sa.PrimaryKeyConstraint("id", name="pk_layers_laid"),
    )
    op.create_index("ix_layers_laid_piece_id", "layers_laid", ["piece_id"])
