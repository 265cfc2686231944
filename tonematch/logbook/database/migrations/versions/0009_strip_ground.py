"""What the strips of a sheet stand on, kept with the sheet."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Apply this step."""
    op.add_column(
        "strip_sheets", sa.Column("ground", sa.JSON(), nullable=False, server_default="{}")
    )
    # Sheets from before had nothing laid on every strip: theirs is the piece's bare gilding.
    op.execute(
        "UPDATE strip_sheets SET ground = (SELECT json_object("
        "'gilding', json_object('technique', technique, 'finish', finish), 'laid', json('[]'), "
        "'bole', bole, 'leaf', leaf) FROM pieces WHERE pieces.id = strip_sheets.piece_id)"
    )
