"""What helped to calibrate beside the card: neutrals, a chart, further cards, a plain sheet."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Apply this step."""
    op.add_column("readings", sa.Column("aids", sa.JSON(), nullable=True))
