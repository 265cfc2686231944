"""The air of the workshop when each layer was laid."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"


def upgrade() -> None:
    """Apply this step."""
    told_at = sa.Column("air_told_at", sa.String(), nullable=False, server_default="")
    op.add_column("pieces", told_at)
    for table in ("layers_laid", "trials"):
        for name in ("temperature", "humidity"):
            op.add_column(table, sa.Column(name, sa.Double(), nullable=True))
