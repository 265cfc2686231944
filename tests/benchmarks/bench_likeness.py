"""Trials found by colour among 100,000 beside colour-science's CIEDE2000 over all of them.

Run apart from the tests: ``python -m tests.benchmarks.bench_likeness``. The reference is handed
the colours in memory; the search reads them from the logbook's file, so that its time is the whole
of it: rows, differences, and the ten nearest trials as they are shown.
"""

import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import insert

from tonematch.arrays import Vector3
from tonematch.logbook.database import rows
from tonematch.logbook.database.tables import TrialRow
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.stores.likeness import Asked
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Application, Trial

TRIALS = 100_000
ROUNDS = 9
MOST_MS = 150
LAYERS = (*(f"wash {n}" for n in range(9)), "raw umber wash")
OLD_GOLD, BLUE = np.array([74.0, 6.0, 31.0]), np.array([30.0, 20.0, -60.0])


def fill(book: Logbook) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Invented trials over the colours of gold, bright to toned; gives before and after."""
    random = np.random.default_rng(0)
    before = random.normal([80.0, 6.0, 34.0], [7.0, 3.0, 7.0], (TRIALS, 3)).clip(0.0, 99.0)
    after = (before - random.gamma(2.0, [2.0, 0.4, 1.0], before.shape)).clip(0.0, 99.0)
    usual = rows.trial_row(Trial(Application(before[0], "raw umber wash", "wash", 0.5), after[0]))
    same = {c.key: getattr(usual, c.key) for c in TrialRow.__table__.columns if c.key != "id"}
    same |= {"made_at": "2026-01-01T00:00:00+00:00", "excluded": False, "cautions": ()}
    axes = [f"{when}_{axis}" for when in ("before", "after") for axis in "Lab"]
    made = [
        same | {"layer": LAYERS[n % len(LAYERS)]} | dict(zip(axes, colours, strict=True))
        for n, colours in enumerate(np.hstack([before, after]).tolist())
    ]
    with book.writing() as session:
        session.execute(insert(TrialRow), made)
    return before, after


def least(run: Callable[[], object]) -> float:
    """Seconds of processor, the least of some rounds: what else the machine does is left out."""
    taken = []
    for _ in range(ROUNDS):
        start = time.process_time()
        run()
        taken.append(time.process_time() - start)
    return min(taken)


def reference(lab: Vector3, sides: tuple[NDArray[np.float64], ...]) -> NDArray[np.float64]:
    """CIEDE2000 to the nearer side of each trial by colour-science."""
    every = [colour.delta_E(lab, side, method="CIE 2000") for side in sides]
    return np.asarray(np.min(every, axis=0), dtype=np.float64)


def main() -> None:
    """Measure and print."""
    with TemporaryDirectory() as folder, open_logbook(Path(folder) / "book.sqlite") as book:
        before, after = fill(book)
        print(f"{TRIALS:,} trials, time of processor, best of {ROUNDS}; at most {MOST_MS} ms")
        for name, asked, sides in (
            ("after", Asked(after=OLD_GOLD), (after,)),
            ("before or after", Asked(like=OLD_GOLD), (before, after)),
            ("nothing near", Asked(like=BLUE), (before, after)),
        ):
            report(book, name, asked, sides)
        words = Asked(like=OLD_GOLD, words="umber")
        print(f"of a layer, by a word: {least(lambda: book.find_trials(words)) * 1e3:.0f} ms")


def report(book: Logbook, name: str, asked: Asked, sides: tuple[NDArray[np.float64], ...]) -> None:
    """Time of a search and of its differences alone beside the reference, and its error."""
    lab = asked.after if asked.like is None else asked.like
    assert lab is not None
    whole = least(lambda: book.find_trials(asked))
    alone = least(lambda: [delta_e_2000(lab, side) for side in sides])
    theirs = least(lambda: reference(lab, sides))
    away = np.array(book.find_trials(asked).away)
    worst = np.abs(away - np.sort(reference(lab, sides))[: len(away)]).max()
    print(
        f"{name}: {whole * 1e3:.0f} ms from the file, of which differences {alone * 1e3:.0f} ms; "
        f"colour.delta_E over all rows in memory {theirs * 1e3:.0f} ms, {theirs / alone:.1f} times "
        f"as long as ours, {theirs / whole:.2f} of the whole; greatest error {worst:.0e} CIEDE2000"
    )


if __name__ == "__main__":
    main()
