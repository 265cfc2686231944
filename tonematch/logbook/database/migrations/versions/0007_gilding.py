"""What the rules of layering ask of a piece's gilding; boles by their plain trade names."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

_BOLES = {"salmon bole": "pink bole", "orange purple bole": "purple-brown bole"}


def upgrade() -> None:
    """Apply this step."""
    # Of pieces from before, nothing is known that was not asked.
    op.add_column("pieces", sa.Column("gilded_at", sa.String(), nullable=False, server_default=""))
    for name in ("historic", "unknown_coating"):
        op.add_column(
            "pieces", sa.Column(name, sa.Boolean(), nullable=False, server_default=sa.false())
        )
    op.add_column("pieces", sa.Column("humidity", sa.Double(), nullable=True))
    for table, column in (("layers", "entry"), ("strip_sheets", "strips")):
        for old, new in _BOLES.items():
            # As the JSON of these columns writes what a rub shows.
            spoken = {"old": f'"beneath": "{old}"', "new": f'"beneath": "{new}"'}
            replaced = f"UPDATE {table} SET {column} = replace({column}, :old, :new)"
            op.execute(sa.text(replaced).bindparams(**spoken))
