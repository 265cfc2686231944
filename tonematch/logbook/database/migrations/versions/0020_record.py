"""What a record asks of a piece, and how well the difference of two readings is known."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"


def upgrade() -> None:
    """Apply this step."""
    for name in ("damage", "condition", "extent", "done_by"):
        op.add_column("pieces", sa.Column(name, sa.String(), nullable=False, server_default=""))
    op.add_column("pieces", sa.Column("makers", sa.JSON(), nullable=False, server_default="[]"))
    # Of comparisons from before it is not known.
    op.add_column("comparisons", sa.Column("covariance", sa.JSON(), nullable=True))
