"""How warm a workshop is; why a step of a plan is laid, and what to mind with it.

Layers are kept with the mix of their full strength; those from before have none.
"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Apply this step."""
    op.add_column("pieces", sa.Column("temperature", sa.Double(), nullable=True))
    for name, kind, empty in (("because", sa.String(), ""), ("cautions", sa.JSON(), "[]")):
        op.add_column("plan_steps", sa.Column(name, kind, nullable=False, server_default=empty))
