"""Plans keep the chance to get there with a photograph and a new plan after each layer.

Of plans from before it was not reckoned; the chance of laying them blind stands in its place.
"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    """Apply this step."""
    op.add_column(
        "plans", sa.Column("chance_read", sa.Double(), nullable=False, server_default="0")
    )
    op.execute("UPDATE plans SET chance_read = chance")
