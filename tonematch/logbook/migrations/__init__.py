"""Every step by which the tables of a logbook came to be as they are."""
