"""Original and repair in two photographs: as sure as the camera lets them be."""

from dataclasses import replace

import numpy as np
import pytest

from tests.cases import in_ci
from tests.measure.accuracy import Compared, compare_apart, random_pairs, retaken
from tests.measure.drawn_pairs import random_conditions
from tests.measure.simulated_camera import Conditions
from tonematch.measure.uncertainty.two_photographs import (
    OWN_PER_CHANGE,
    OWN_TONE,
    change_of_card,
    own_shares,
)

PAIRS = 24


def photographed_apart(count: int, seed: int, balanced: float) -> list[Compared]:
    """Pairs in a photograph each, whose white is balanced by up to `balanced` otherwise."""
    rng = np.random.default_rng(seed)

    def otherwise(how: Conditions) -> Conditions:
        red, blue = rng.uniform(1.0 - balanced, 1.0 + balanced, 2)
        other = random_conditions(rng)
        return replace(
            how, balance=(red, 1.0, blue), gradient=other.gradient, falloff=other.falloff
        )

    found = []
    for number, pair in enumerate(random_pairs(count, rng)):
        how = replace(random_conditions(rng), exposure=0.7)

        def shoot(how: Conditions, pair=pair, number=number) -> Compared:  # type: ignore[no-untyped-def]
            return compare_apart(pair, (otherwise(how), otherwise(how)), rng, 2 * number)

        found.append(retaken(shoot, how))
    return found


@pytest.mark.parametrize("balanced", [in_ci(by) for by in (0.0, 0.03, 0.08)])
def test_interval_holds_the_truth_whatever_the_white_balance_did(balanced: float) -> None:
    """95 % less three standard errors of so few pairs."""
    found = photographed_apart(PAIRS, 47, balanced)
    held = [one.comparison.interval[0] <= one.true <= one.comparison.interval[1] for one in found]
    assert np.mean(held) >= 0.95 - 3.0 * np.sqrt(0.95 * 0.05 / PAIRS)


def test_more_change_of_the_card_is_less_sure() -> None:
    (still,), (changed,) = (photographed_apart(1, 3, balanced) for balanced in (0.0, 0.08))
    widths = [np.ptp(one.comparison.interval) for one in (still, changed)]
    assert widths[1] > 1.1 * widths[0]
    readings = changed.comparison.original, changed.comparison.repair
    camera = min(OWN_PER_CHANGE * change_of_card(*readings), 1.0)
    assert own_shares(*readings) == {"camera": pytest.approx(camera), "tone": OWN_TONE}
    assert own_shares(readings[0], readings[0]) == {}
    assert change_of_card(readings[0], readings[0]) == 0.0
