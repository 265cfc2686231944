"""Every row has a sum; those from before get theirs when all steps are applied.

And what pages ask of a long logbook is looked up in an index.
"""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"


def upgrade() -> None:
    """Apply this step."""
    for table in sorted(sa.inspect(op.get_bind()).get_table_names()):
        if table != "alembic_version":
            op.add_column(table, sa.Column("sum", sa.String(), nullable=False, server_default=""))
    op.drop_index("ix_trials_layer", "trials")
    laid = ["layer", "kind", "strength", "coats", "excluded"]
    op.create_index("ix_trials_laid", "trials", laid)
    op.create_index("ix_proposals_comparison_id", "proposals", ["comparison_id"])
