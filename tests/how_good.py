"""Print the README's table of how good tonematch is: ``python -m tests.how_good [--seed SEED]``.

A quarter of an hour on two free cores. Everything is simulated and its truth known; the longer
tables that each row is taken from, with more cases and more ways to look, are
``tests.measure.accuracy_table``, ``tests.toning.learning_table`` and ``tests.toning.loop_table``.
"""

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from functools import partial

from tests.measure.accuracy import Compared, summarise
from tests.measure.drawn_pairs import drawn, on_card, on_chart
from tests.measure.simulated_camera import DAYLIGHT_OR_LED
from tests.toning.learning import learn_simulated, together
from tests.toning.loop_table import run_case, share_within
from tonematch.toning.validation.held_out import MODEL

PAIRS, WORKSHOPS, LOOPS = 200, 3, 60


def main() -> None:
    """Print the table."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("--seed", type=int, default=100)
    given = arguments.parse_args()
    print("| what, simulated | how good |\n| --- | --- |", flush=True)
    with ProcessPoolExecutor(2) as workers:
        for rows in (readings, layers, loops):
            for what, how_good in rows(given.seed, workers):
                print(f"| {what} | {how_good} |", flush=True)


def readings(seed: int, workers: Executor) -> Iterator[tuple[str, str]]:
    """Compared differences on the card alone and with a chart."""
    of_card = drawn(partial(on_card, lamps=DAYLIGHT_OR_LED), PAIRS, (seed, 1), workers)
    yield "difference of two golds (truly 0 to 6), grey card alone", _say(of_card)
    of_chart = drawn(on_chart, PAIRS, (seed, 2), workers)
    yield "the same, with a 24-patch chart", _say([compared for compared, _ in of_chart])


def _say(found: Sequence[Compared]) -> str:
    told = summarise(found)
    return (
        f"off by {told.median:.2f} CIEDE2000 in the median, {told.at_95:.2f} at worst of 19 in 20; "
        f"the 95 % interval holds the truth in {told.held:.0%}"
    )


def layers(seed: int, workers: Executor) -> Iterator[tuple[str, str]]:
    """What a layer will do, on pieces that the model has not seen."""
    for trials in (20, 60, 300):
        seeds = range(seed, seed + WORKSHOPS)
        learned = together(workers.map(partial(learn_simulated, trials), seeds))
        plain = min(error for name, error in learned.errors.items() if name != MODEL)
        inside = learned.inside[:, 1].mean()
        yield (
            f"what a layer will do, after {trials} trials of ten layers",
            f"off by {learned.errors[MODEL]:.1f} CIEDE2000 on average, the best plainer "
            f"way by {plain:.1f}; {inside:.0%} lie in the stated 90 % region",
        )


def loops(seed: int, workers: Executor) -> Iterator[tuple[str, str]]:
    """The whole loop of plan, layer, photograph and new plan."""
    ended = list(workers.map(run_case, range(seed, seed + LOOPS)))
    yield (
        "old golds matched within 2.0 after at most four layers, from 60 trials",
        f"{share_within(ended):.0%} of {LOOPS}",
    )


if __name__ == "__main__":
    main()
