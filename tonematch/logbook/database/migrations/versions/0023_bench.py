"""At which bench each trial was logged."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"


def upgrade() -> None:
    """Apply this step."""
    bench = sa.Column("bench", sa.String(), nullable=False, server_default="")
    op.add_column("trials", bench)
