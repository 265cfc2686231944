"""Changes say at which bench they were made and which one they undo; a piece can be removed.

Of corrections from before that were taken back it is told which.
"""

import json

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"


def upgrade() -> None:
    """Apply this step."""
    op.add_column("pieces", sa.Column("removed_at", sa.String(), nullable=True))
    with op.batch_alter_table("changes") as changes:
        changes.add_column(sa.Column("bench", sa.String(), nullable=False, server_default=""))
        changes.add_column(sa.Column("undoes", sa.Integer(), nullable=True))
        changes.create_foreign_key("fk_changes_undoes", "changes", ["undoes"], ["id"])
    for column in ("made_at", "row_id", "undoes"):
        op.create_index(f"ix_changes_{column}", "changes", [column])
    connection = op.get_bind()
    query = "SELECT id, row_id, before FROM changes WHERE table_name = 'trials' ORDER BY id"
    standing: dict[int, list[int]] = {}
    for number, trial, before in connection.execute(sa.text(query)).all():
        words = _words(before)
        if "corrected" in words:
            standing.setdefault(trial, []).append(number)
        elif "put back" in words and standing.get(trial):
            undone = {"number": number, "undoes": standing[trial].pop()}
            connection.execute(
                sa.text("UPDATE changes SET undoes = :undoes WHERE id = :number"), undone
            )


def _words(before: object) -> list[str]:
    try:
        return list(json.loads(str(before)))
    except (ValueError, TypeError):  # damaged, which the check tells
        return []
