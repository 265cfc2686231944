"""A logbook of decades, 100,000 trials and the rows of 20,000 photographs, beside one of a day.

Run apart from the tests: ``python -m tests.benchmarks.bench_growing``. Each line is the time of
processor of what a person waits for, beside the same in a logbook with one piece; what is asked of
it stands behind. The pictures themselves lie in files that none of this opens.
"""

import csv
import resource
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

import numpy as np
from sqlalchemy import insert, select

from tonematch.cli.trials import say_found, say_kept_trial
from tonematch.logbook.core import Piece
from tonematch.logbook.database.sums import set_sums
from tonematch.logbook.database.tables import Base, ComparisonRow, PhotographRow
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.stores.likeness import Asked
from tonematch.logbook.trial_csv import COLUMNS, read_trials
from tonematch.measure.core import Area, Comparison, Reading

TRIALS, PHOTOGRAPHS, PIECES, COMPARED = 100_000, 20_000, 500, 10
CORNERS = ((30.0, 10.0), (70.0, 10.0), (70.0, 50.0), (30.0, 50.0))
NAME = "piece 7"

Done = TypeVar("Done")


def timed(work: Callable[[], Done]) -> tuple[float, Done]:
    """Seconds of processor, the least of three: what else the machine does is left out."""
    taken = []
    for _ in range(3):
        start = time.process_time()
        done = work()
        taken.append(time.process_time() - start)
    return min(taken), done


def invented(path: Path) -> Path:
    """A table of invented trials over the colours of gold, on all pieces."""
    random = np.random.default_rng(0)
    before = random.normal([80.0, 6.0, 34.0], [5.0, 2.0, 5.0], (TRIALS, 3)).clip(1.0, 99.0)
    after = (before - random.gamma(2.0, [2.0, 0.4, 1.0], before.shape)).clip(0.0, 99.0)
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(COLUMNS)
        for n, colours in enumerate(np.hstack([before, after]).tolist()):
            where = (f"piece {n % PIECES}", "2026-01-01", "water", "burnished", n // PIECES + 1)
            table.writerow([*where, f"wash {n % 40}", "wash", 0.5, 1, *colours, "invented"])
    return path


def compared() -> Comparison:
    """Two readings of a photograph, invented."""
    sides = [
        Reading(
            np.array([L, 7.0, 34.0]), np.eye(3), np.eye(3), 900, 3, 1.2, 0.7,
            Area(role, CORNERS, role), "0" * 64, (),  # type: ignore[arg-type]
        )
        for L, role in ((60.0, "original"), (68.0, "repair"))
    ]  # fmt: skip
    return Comparison(
        7.4, (6.9, 8.0), 8.0, 0.0, 0.0, 0.0, 2.0, "no match", "Lighter.", sides[0], sides[1], ()
    )


def fill(book: Logbook) -> None:
    """The rows of photographs and comparisons, as many of each on every piece."""
    book.keep_comparison(NAME, compared())
    tables = Base.metadata.tables
    photographs, comparisons = (tables[row.__tablename__] for row in (PhotographRow, ComparisonRow))
    with book.writing() as session:
        connection = session.connection()
        first = dict(connection.execute(select(comparisons)).mappings().one())
        usual = {"file_name": "a.jpg", "size": 4_000_000, "made_at": first["made_at"]}
        for table, made in (
            (photographs, [usual | {"sha256": f"{n:064x}"} for n in range(PHOTOGRAPHS)]),
            (comparisons, [first] * PIECES * COMPARED),
        ):
            placed = [row | {"id": n + 2, "piece_id": n % PIECES + 1} for n, row in enumerate(made)]
            connection.execute(insert(table), placed)
            set_sums(connection, table, (row["id"] for row in placed))


def waits(book: Logbook) -> dict[str, Callable[[], object]]:
    """What a person waits for, by what it is called."""

    def opened() -> object:
        with open_logbook(book.path) as again:
            return again.standings()

    def listed() -> str:
        found = book.find_trials(Asked())
        return "\n".join([*(say_kept_trial(k, False) for k in found.trials), say_found(found)])

    return {
        "start, all pieces as they stand": opened,
        "opening a piece": lambda: (
            book.piece(NAME),
            book.last_comparison(NAME),
            book.standing(NAME),
        ),
        "its story": lambda: book.history(NAME),
        "the layers that are known": book.known_layers,
        "the last acts, to undo": lambda: book.acts(10),
        "trials list": listed,
    }


def main() -> None:
    """Measure and print."""
    with (
        TemporaryDirectory() as folder,
        open_logbook(Path(folder) / "long.sqlite") as long,
        open_logbook(Path(folder) / "short.sqlite") as short,
    ):
        table = invented(Path(folder) / "trials.csv")
        start = time.process_time()
        trials = read_trials(table, long.shelf())
        long.add_trials(trials)
        taken = time.process_time() - start
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
        print(f"import of {TRIALS:,} rows: {taken:.1f} s (under 20 s), {most:.0f} MB (under 500)")
        fill(long)
        short.add_piece(Piece(NAME))
        short.add_trials(trials[:1])
        short.keep_comparison(NAME, compared())
        beside = waits(short)
        for name, work in waits(long).items():
            ours, _ = timed(work)
            theirs, _ = timed(beside[name])
            print(
                f"{name}: {1e3 * ours:.0f} ms, {1e3 * theirs:.0f} ms in the short logbook, "
                f"{ours / theirs:.1f} times as long"
            )


if __name__ == "__main__":
    main()
