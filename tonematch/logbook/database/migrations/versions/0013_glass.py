"""Whether a piece frames a mirror, and whether that is an old one."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    """Apply this step."""
    glass = sa.Column("glass", sa.String(), nullable=False, server_default="unknown")
    op.add_column("pieces", glass)
