"""The database under a logbook: its tables, what stands in a cell, opening and migrating it."""
