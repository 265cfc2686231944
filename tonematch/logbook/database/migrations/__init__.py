"""Every step by which the tables of a logbook came to be as they are.

To add a step, change `logbook/database/tables.py`, then have Alembic draft it against a logbook
that has the steps so far, and read through what it wrote::

    from pathlib import Path
    from alembic import command
    from alembic.config import Config
    from tonematch.logbook.database.opening import MIGRATIONS
    from tonematch.logbook.store import open_logbook

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with open_logbook(Path("draft.sqlite")) as book, book.engine.begin() as connection:
        config.attributes["connection"] = connection
        command.revision(config, "What changes", autogenerate=True, rev_id="0002")
"""
