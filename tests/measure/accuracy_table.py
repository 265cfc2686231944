"""Prints the accuracy table of the README: ``python tests/measure/accuracy_table.py [PAIRS]``.

All on photographs by the simulated camera (`simulated_camera`): two cameras, seven lamps, 8-bit
JPEG, noise, light that is a little uneven, mottled surfaces; true differences from 0 to 6. PAIRS
is how many pairs the rows of the second table have (2,000 unless given; about ten minutes).
"""

import sys
from dataclasses import replace
from functools import partial

import numpy as np

from tonematch.swatchbook import swatch_path

sys.path.insert(0, str(swatch_path()))  # the scripts there import one another by name

from accuracy import (
    Compared,
    Summary,
    compare_on_card,
    compare_on_chart,
    compare_on_greys,
    compare_on_profile,
    random_pairs,
    retaken,
    summarise,
)
from simulated_camera import DAYLIGHT_OR_LED, LAMPS, random_conditions


def on_card(
    count: int,
    seed: int,
    lamps: tuple[str, ...] = LAMPS,
    difference: float | None = None,
    mottling: float = 1.0,
) -> list[Compared]:
    """Random pairs under random conditions, compared on the grey card alone."""
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng, difference, mottling):
        on = partial(compare_on_card, pair, rng=rng)
        found.append(retaken(on, random_conditions(rng, lamps)))
    return found


def on_greys(count: int, seed: int) -> list[Compared]:
    """Compared on a card and a grey scale; the file's gamma is anything from 1.0 to 2.6.

    Exposed so that the card of a linear file, which looks dark, is not refused as too dark.
    """
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng):
        gamma, exposure = rng.uniform(1.0, 2.6), rng.uniform(0.65, 0.75)
        how = replace(random_conditions(rng), gamma=gamma, exposure=exposure)
        found.append(retaken(partial(compare_on_greys, pair, rng=rng), how))
    return found


def on_chart(count: int, seed: int) -> tuple[list[Compared], list[Compared]]:
    """Compared beside a chart, and in a second picture with the profile of the first."""
    rng = np.random.default_rng(seed)
    with_chart, with_profile = [], []
    for pair in random_pairs(count, rng):
        how = random_conditions(rng)
        compared, profile = retaken(partial(compare_on_chart, pair, rng=rng), how)
        with_chart.append(compared)
        later = replace(compared.how, exposure=compared.how.exposure * rng.uniform(0.8, 1.0))
        on_it = partial(compare_on_profile, pair, profile=profile, rng=rng)
        with_profile.append(retaken(on_it, later))
    return with_chart, with_profile


def print_case(words: str, found: Summary) -> None:
    """One row of the first table."""
    print(f"| {words} | {found.reading:.1f} | {found.median:.2f} / {found.at_95:.2f} |", flush=True)


def print_interval(words: str, found: Summary) -> None:
    """One row of the second table."""
    print(
        f"| {words} | {found.pairs} | {100 * found.held:.1f} % | {found.width:.2f} "
        f"| {found.bias:+.2f} | {100 * found.called_apart:.1f} % |",
        flush=True,
    )


def main(pairs: int) -> None:
    """Print both tables."""
    print("| case | absolute reading, mean CIEDE2000 "
          "| error of the compared CIEDE2000, median / 95th percentile |")  # fmt: skip
    print("| --- | --- | --- |")
    few = max(50, pairs // 5)
    print_case("card alone, daylight or LED", summarise(on_card(few, 1, DAYLIGHT_OR_LED)))
    print_case("card alone, any of the seven lamps", summarise(on_card(few, 2)))

    print_case("card and grey scale, gamma 1.0 to 2.6", summarise(on_greys(few, 6)))
    with_chart, with_profile = on_chart(few, 7)
    print_case("chart", summarise(with_chart))
    print_case("saved camera profile", summarise(with_profile))

    print("\n| pairs, card alone | number | 95 % interval holds the truth | its median width "
          "| mean error | called no match |")  # fmt: skip
    print("| --- | --- | --- | --- | --- | --- |")
    print_interval("true difference 0 to 6", summarise(on_card(pairs, 3)))
    print_interval("0 to 6, surfaces without mottle", summarise(on_card(few, 4, mottling=0.0)))
    for difference in (0.0, 1.0, 2.0):
        found = on_card(few, 5, difference=difference)
        print_interval(f"true difference {difference:g}", summarise(found))
    print_interval("beside a chart, 0 to 6", summarise(with_chart))
    print_interval("with a saved profile, 0 to 6", summarise(with_profile))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
