"""What lay on a repair before its first trial."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Apply this step."""
    # Pieces from before knew nothing of it, which reads as bare gold.
    op.add_column(
        "pieces", sa.Column("laid_before", sa.JSON(), nullable=False, server_default="[]")
    )
