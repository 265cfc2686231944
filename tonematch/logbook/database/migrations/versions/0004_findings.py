"""What was found of a surface beside its colour: evenness, the look from afar, lustre."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Apply this step."""
    op.add_column(
        "comparisons", sa.Column("findings", sa.JSON(), nullable=False, server_default="[]")
    )
