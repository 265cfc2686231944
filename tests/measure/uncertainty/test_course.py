"""The way to the original: lightness and hue apart, with intervals that hold what is drawn."""

from dataclasses import replace

import numpy as np
import pytest

from tonematch.measure.colour.colour_science import colour
from tonematch.measure.comparison import lch_difference
from tonematch.measure.core import Comparison
from tonematch.measure.uncertainty.course import stand_of


def test_the_intervals_hold_95_of_100_draws(comparison: Comparison) -> None:
    """Lightness and hue of each draw by colour-science's polar form, dH*ab of ISO/CIE 11664-4."""
    rng = np.random.default_rng(4)
    own = np.array([[0.4, 0.1, 0.0], [0.1, 0.5, 0.2], [0.0, 0.2, 0.6]])
    dL, _, _, dH = lch_difference(comparison.original.lab, comparison.repair.lab)
    sides = (
        replace(comparison.original, own_covariance=own),
        replace(comparison.repair, own_covariance=own),
    )
    gap = replace(comparison, original=sides[0], repair=sides[1], delta_L=dL, delta_H=dH)
    stand = stand_of(gap)
    one, other = (
        colour.models.Jab_to_JCh(rng.multivariate_normal(side.lab, own, 20_000)) for side in sides
    )
    turn = np.radians((other[:, 2] - one[:, 2] + 180.0) % 360.0 - 180.0)
    hue = 2.0 * np.sqrt(one[:, 1] * other[:, 1]) * np.sin(turn / 2.0)
    lightness = other[:, 0] - one[:, 0]
    for drawn, value, within in (
        (lightness, stand.lightness, stand.lightness_within),
        (hue, stand.hue, stand.hue_within),
    ):
        assert np.mean(np.abs(drawn - value) <= within) == pytest.approx(0.95, abs=0.01)


def test_what_the_comparison_knows_of_the_difference_comes_first(comparison: Comparison) -> None:
    """Twice the deviation is twice the interval (JCGM 100:2008, 6.2)."""
    own = comparison.original.own_covariance + comparison.repair.own_covariance
    known = stand_of(replace(comparison, covariance=4.0 * own))
    assert known.lightness_within == pytest.approx(2.0 * stand_of(comparison).lightness_within)
    assert known.hue_within == pytest.approx(2.0 * stand_of(comparison).hue_within)
