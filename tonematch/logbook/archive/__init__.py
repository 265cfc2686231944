"""A logbook as one file: all rows and original photographs, out and in again."""
