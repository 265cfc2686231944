"""Print the README's table of how good tonematch is: ``python -m tests.how_good [--seed SEED]``.

Ten minutes on two free cores. Everything is simulated and its truth known; the longer
tables that each row is taken from, with more cases and more ways to look, are
``tests.measure.accuracy_table``, ``tests.toning.learning_table`` and ``tests.toning.ways_table``.
"""

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from functools import partial
from itertools import chain

from tests.measure.accuracy import Compared, summarise
from tests.measure.drawn_pairs import drawn, on_card, on_chart, on_three_tones
from tests.measure.simulated_camera import DAYLIGHT_OR_LED
from tests.toning.closed_loop import TOLERANCE
from tests.toning.learning import learn_simulated, together
from tests.toning.ways import run_case
from tonematch.toning.validation.held_out import MODEL

PAIRS, TRIALS, WORKSHOPS, LOOPS = 200, (20, 60, 300), 3, 24
COLUMNS = ("what, simulated", "how good")
ASKED = (
    "how far two golds differ, on the grey card alone",
    "the same, with a white and a black card",
    "the same, with a 24-patch chart",
    *(f"what a layer does on another piece, after {n} trials" for n in TRIALS),
    "a repair toned in at most six layers, after 60 trials",
    "the same, once three plans were laid on offcuts",
)
"""What the rows tell, in their order."""


def main() -> None:
    """Print the README's table of how good tonematch is."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("--seed", type=int, default=100, help="100 unless given")
    seed = arguments.parse_args().seed
    _row(*COLUMNS)
    _row("---", "---")
    with ProcessPoolExecutor(2) as workers:
        told = chain.from_iterable(tell(seed, workers) for tell in (readings, layers, loops))
        for what, how_good in zip(ASKED, told, strict=True):
            _row(what, how_good)


def _row(what: str, how_good: str) -> None:
    print(f"| {what} | {how_good} |", flush=True)


def readings(seed: int, workers: Executor) -> Iterator[str]:
    """Compared differences on the card alone, with three tones and with a chart."""
    yield _say(drawn(partial(on_card, lamps=DAYLIGHT_OR_LED), PAIRS, (seed, 1), workers))
    yield _say(drawn(partial(on_three_tones, lamps=DAYLIGHT_OR_LED), PAIRS, (seed, 1), workers))
    of_chart = drawn(on_chart, PAIRS, (seed, 2), workers)
    yield _say([compared for compared, _ in of_chart])


def _say(found: Sequence[Compared]) -> str:
    told = summarise(found)
    return (
        f"half are off by less than {told.median:.2f} CIEDE2000, 19 of 20 by {told.at_95:.2f}; "
        f"95 % interval {told.width:.1f} wide, true in {100 * told.held:.0f} %"
    )


def layers(seed: int, workers: Executor) -> Iterator[str]:
    """What a layer will do, on pieces that the model has not seen."""
    for trials in TRIALS:
        seeds = range(seed, seed + WORKSHOPS)
        learned = together(workers.map(partial(learn_simulated, trials), seeds))
        plainer = min(error for name, error in learned.errors.items() if name != MODEL)
        yield (
            f"off by {learned.errors[MODEL]:.1f} on average, the best plainer way by "
            f"{plainer:.1f}; 90 % region true in {100 * learned.inside[:, 1].mean():.0f} %"
        )


def loops(seed: int, workers: Executor) -> Iterator[str]:
    """The whole loop of plan, layer, photograph and new plan, in workshops with other physics."""
    ways = ("60 trials", "60 trials and stacks")
    ran = [workers.submit(run_case, case, ways) for case in range(seed, seed + LOOPS)]
    ended = [one.result() for one in ran]
    for way in range(len(ways)):
        within = sum(each[way].far <= TOLERANCE for each in ended)
        yield f"truly within {TOLERANCE:g} in {100 * within / LOOPS:.0f} % of {LOOPS} old surfaces"


if __name__ == "__main__":
    main()
