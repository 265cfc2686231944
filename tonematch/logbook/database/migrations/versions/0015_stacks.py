"""A test strip holds several layers on one another; why it was chosen is no longer kept."""

from alembic import op

revision = "0015"
down_revision = "0014"


def upgrade() -> None:
    """Apply this step."""
    op.execute(
        "UPDATE strip_sheets SET strips = (SELECT json_group_array(json_object("
        "'steps', json_array(json_object('layer', json_extract(value, '$.layer'), "
        "'strength', json_extract(value, '$.strength'), 'coats', json_extract(value, '$.coats'))), "
        "'first', json_extract(value, '$.first'))) FROM json_each(strips)) "
        "WHERE json_valid(strips)"
    )
