"""Every row has a sum; those from before get theirs when all steps are applied."""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"


def upgrade() -> None:
    """Apply this step."""
    for table in sorted(sa.inspect(op.get_bind()).get_table_names()):
        if table != "alembic_version":
            op.add_column(table, sa.Column("sum", sa.String(), nullable=False, server_default=""))
