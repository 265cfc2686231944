"""First tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Apply this step."""
    op.create_table(
        "changes",
        sa.Column("table_name", sa.String(), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("before", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_changes"),
    )
    op.create_table(
        "layers",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("entry", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("retired_at", sa.String(), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_layers"),
        sa.UniqueConstraint("name", name="uq_layers_name"),
    )
    op.create_table(
        "pieces",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("technique", sa.String(), nullable=False),
        sa.Column("finish", sa.String(), nullable=False),
        sa.Column("bole", sa.String(), nullable=False),
        sa.Column("leaf", sa.String(), nullable=False),
        sa.Column("hangs_in", sa.String(), nullable=False),
        sa.Column("wish", sa.String(), nullable=False),
        sa.Column("tolerance", sa.Double(), nullable=False),
        sa.Column("viewing_distance_m", sa.Double(), nullable=True),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("invented", sa.Boolean(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.CheckConstraint("tolerance > 0", name="ck_pieces_tolerance"),
        sa.PrimaryKeyConstraint("id", name="pk_pieces"),
        sa.UniqueConstraint("name", name="uq_pieces_name"),
    )
    op.create_table(
        "photographs",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_photographs_piece_id"),
        sa.PrimaryKeyConstraint("id", name="pk_photographs"),
        sa.UniqueConstraint("piece_id", "sha256", name="uq_photographs_piece_id_sha256"),
    )
    op.create_index("ix_photographs_sha256", "photographs", ["sha256"])

    op.create_table(
        "readings",
        sa.Column("piece_id", sa.Integer(), nullable=True),
        sa.Column("photograph_id", sa.Integer(), nullable=True),
        sa.Column("photo_sha256", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("corners", sa.JSON(), nullable=False),
        sa.Column("L", sa.Double(), nullable=False),
        sa.Column("a", sa.Double(), nullable=False),
        sa.Column("b", sa.Double(), nullable=False),
        sa.Column("covariance", sa.JSON(), nullable=False),
        sa.Column("own_covariance", sa.JSON(), nullable=False),
        sa.Column("pixels", sa.Integer(), nullable=False),
        sa.Column("left_out", sa.Integer(), nullable=False),
        sa.Column("spread_L", sa.Double(), nullable=False),
        sa.Column("spread_C", sa.Double(), nullable=False),
        sa.Column("warnings", sa.JSON(), nullable=False),
        sa.Column("calibration", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["photograph_id"], ["photographs.id"], name="fk_readings_photograph_id"
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_readings_piece_id"),
        sa.PrimaryKeyConstraint("id", name="pk_readings"),
    )
    op.create_index("ix_readings_photograph_id", "readings", ["photograph_id"])
    op.create_index("ix_readings_piece_id", "readings", ["piece_id"])

    op.create_table(
        "comparisons",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("original_id", sa.Integer(), nullable=False),
        sa.Column("repair_id", sa.Integer(), nullable=False),
        sa.Column("delta_e", sa.Double(), nullable=False),
        sa.Column("interval_low", sa.Double(), nullable=False),
        sa.Column("interval_high", sa.Double(), nullable=False),
        sa.Column("delta_lightness", sa.Double(), nullable=False),
        sa.Column("delta_chroma", sa.Double(), nullable=False),
        sa.Column("delta_hue_angle", sa.Double(), nullable=False),
        sa.Column("delta_hue", sa.Double(), nullable=False),
        sa.Column("tolerance", sa.Double(), nullable=False),
        sa.Column("verdict", sa.String(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("warnings", sa.JSON(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["original_id"], ["readings.id"], name="fk_comparisons_original_id"
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_comparisons_piece_id"),
        sa.ForeignKeyConstraint(["repair_id"], ["readings.id"], name="fk_comparisons_repair_id"),
        sa.PrimaryKeyConstraint("id", name="pk_comparisons"),
    )
    op.create_index("ix_comparisons_piece_id", "comparisons", ["piece_id"])

    op.create_table(
        "trials",
        sa.Column("piece_id", sa.Integer(), nullable=True),
        sa.Column("date", sa.String(), nullable=False),
        sa.Column("technique", sa.String(), nullable=False),
        sa.Column("finish", sa.String(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("layer", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("strength", sa.Double(), nullable=False),
        sa.Column("coats", sa.Integer(), nullable=False),
        sa.Column("before_L", sa.Double(), nullable=False),
        sa.Column("before_a", sa.Double(), nullable=False),
        sa.Column("before_b", sa.Double(), nullable=False),
        sa.Column("after_L", sa.Double(), nullable=False),
        sa.Column("after_a", sa.Double(), nullable=False),
        sa.Column("after_b", sa.Double(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("before_id", sa.Integer(), nullable=True),
        sa.Column("after_id", sa.Integer(), nullable=True),
        sa.Column("prediction", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("cautions", sa.JSON(), nullable=False),
        sa.Column("excluded", sa.Boolean(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.CheckConstraint("after_L BETWEEN 0 AND 100", name="ck_trials_after_L"),
        sa.CheckConstraint("before_L BETWEEN 0 AND 100", name="ck_trials_before_L"),
        sa.CheckConstraint("coats >= 1", name="ck_trials_coats"),
        sa.CheckConstraint("strength > 0", name="ck_trials_strength"),
        sa.ForeignKeyConstraint(["after_id"], ["readings.id"], name="fk_trials_after_id"),
        sa.ForeignKeyConstraint(["before_id"], ["readings.id"], name="fk_trials_before_id"),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_trials_piece_id"),
        sa.PrimaryKeyConstraint("id", name="pk_trials"),
    )
    op.create_index("ix_trials_layer", "trials", ["layer"])
    op.create_index("ix_trials_piece_id", "trials", ["piece_id"])

    op.create_table(
        "proposals",
        sa.Column("piece_id", sa.Integer(), nullable=False),
        sa.Column("comparison_id", sa.Integer(), nullable=True),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("target", sa.JSON(), nullable=False),
        sa.Column("tolerance", sa.Double(), nullable=False),
        sa.Column("missing", sa.String(), nullable=False),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["comparison_id"], ["comparisons.id"], name="fk_proposals_comparison_id"
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name="fk_proposals_piece_id"),
        sa.PrimaryKeyConstraint("id", name="pk_proposals"),
    )
    op.create_index("ix_proposals_piece_id", "proposals", ["piece_id"])

    op.create_table(
        "plans",
        sa.Column("proposal_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("delta_e", sa.Double(), nullable=False),
        sa.Column("chance", sa.Double(), nullable=False),
        sa.Column("cautions", sa.JSON(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["proposal_id"], ["proposals.id"], name="fk_plans_proposal_id"),
        sa.PrimaryKeyConstraint("id", name="pk_plans"),
    )
    op.create_index("ix_plans_proposal_id", "plans", ["proposal_id"])

    op.create_table(
        "plan_steps",
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("layer", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("strength", sa.Double(), nullable=False),
        sa.Column("coats", sa.Integer(), nullable=False),
        sa.Column("lab", sa.JSON(), nullable=False),
        sa.Column("covariance", sa.JSON(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["plan_id"], ["plans.id"], name="fk_plan_steps_plan_id"),
        sa.PrimaryKeyConstraint("id", name="pk_plan_steps"),
    )
    op.create_index("ix_plan_steps_plan_id", "plan_steps", ["plan_id"])
