"""How sure the colours of a gap are, chosen once for every face."""

from dataclasses import replace

import numpy as np

from tests.toning.tints import Tints, tint_shelf
from tonematch.demonstration import demo_photograph
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.marked import compare_marked
from tonematch.toning.core import Surface
from tonematch.toning.planning.gap import Workshop, gap_of, typed_gap
from tonematch.toning.planning.plan import plan_for

BRIGHT, AGED = np.array([88.0, 6.0, 35.0]), np.array([72.0, 6.5, 28.0])


def test_of_two_photographed_surfaces_counts_what_each_reading_has_of_its_own() -> None:
    marked = demo_photograph("scene-1.jpg").marked()
    comparison = compare_marked(marked, marked, usual_card(), 1.5)
    gap = gap_of(comparison)
    # The card and the camera err alike on both, and that is most of what is not known of either.
    whole = np.trace(comparison.repair.covariance)
    assert 0.0 < np.trace(gap.before_covariance) < 0.5 * whole
    assert gap.tolerance == 1.5
    assert gap.lustres is None
    lit = replace(comparison.repair, lustre=1.2), replace(comparison.original, lustre=0.7)
    measured = gap_of(replace(comparison, repair=lit[0], original=lit[1]))
    assert measured.lustres == (1.2, 0.7)


def test_typed_colours_are_as_sure_as_the_readings_of_the_trials() -> None:
    chances = []
    for noise in (0.3, 1.2):
        model = Tints(noise=noise)
        workshop = Workshop(model, list(tint_shelf().values()), Surface("water"))
        chances.append(plan_for(typed_gap(BRIGHT, AGED, model), workshop).plans[0].chance)
    assert chances[1] < chances[0] - 0.1
