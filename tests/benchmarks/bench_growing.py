"""A logbook of decades: 100,000 trials and the rows of 20,000 photographs beside an empty one.

Run apart from the tests: ``python -m tests.benchmarks.bench_growing``. Every line is the time of
what a person waits for with the long logbook, and how often it holds that of the reference beside
it: the same in a logbook with one piece, or SQLite's own copy of as many rows.
"""

from tests.conftest import comparison, trial  # noqa: F401 - what they hold is made below

TRIALS, PHOTOGRAPHS, PIECES = 100_000, 20_000, 500
