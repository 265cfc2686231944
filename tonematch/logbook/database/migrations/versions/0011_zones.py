"""A piece has zones, each a gold of its own; one from before is a zone without a name."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Apply this step."""
    with op.batch_alter_table("pieces") as pieces:
        pieces.add_column(sa.Column("zone", sa.String(), nullable=False, server_default=""))
        pieces.drop_constraint("uq_pieces_name")
        pieces.create_unique_constraint("uq_pieces_name_zone", ["name", "zone"])
