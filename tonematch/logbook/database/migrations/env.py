"""Run by Alembic: apply the steps on the connection that `logbook/database/opening.py` holds."""

from alembic import context

from tonematch.logbook.database.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite alters a table by copying it
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
