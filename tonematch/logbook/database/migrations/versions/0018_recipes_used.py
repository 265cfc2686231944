"""Recipes have names, and it is kept where they were laid again."""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"


def upgrade() -> None:
    """Apply this step."""
    op.create_table(
        "recipes",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("steps", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("removed_at", sa.String(), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_recipes"),
        sa.UniqueConstraint("name", name="uq_recipes_name"),
    )
    op.create_table(
        "recipe_uses",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("recipe_id", sa.Integer(), nullable=False),
        sa.Column("comparison_id", sa.Integer(), nullable=True),
        sa.Column("last_trial_id", sa.Integer(), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_recipe_uses_piece_id"),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipes.id"], name="fk_recipe_uses_recipe_id"),
        sa.ForeignKeyConstraint(
            ["comparison_id"], ["comparisons.id"], name="fk_recipe_uses_comparison_id"
        ),
        sa.ForeignKeyConstraint(
            ["last_trial_id"], ["trials.id"], name="fk_recipe_uses_last_trial_id"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_recipe_uses"),
    )
    for column in ("piece_id", "recipe_id"):
        op.create_index(f"ix_recipe_uses_{column}", "recipe_uses", [column])
