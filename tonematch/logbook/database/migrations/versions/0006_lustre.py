"""Lustre of readings and of trials as numbers."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Apply this step."""
    op.add_column("readings", sa.Column("lustre", sa.Double(), nullable=True))
    op.add_column("trials", sa.Column("before_lustre", sa.Double(), nullable=True))
    op.add_column("trials", sa.Column("after_lustre", sa.Double(), nullable=True))
