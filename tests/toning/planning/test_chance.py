"""Chances: of a plan laid blind held against draws, of one that is read against what it must be."""

import numpy as np
import pytest
from scipy import stats

from tonematch.toning.planning.chance import comes_true, play
from tonematch.toning.planning.recipes import Moves

NOWHERE = np.zeros((2000, 3))


def moves(*shifts: float, scatter: float | list[float], last: bool = False) -> Moves:
    """Layers that go so far along one axis each."""
    shift = np.array([[s, 0.0, 0.0] for s in shifts])
    count = len(shifts)
    return Moves(
        shift, np.full(count, scatter), np.zeros(count), np.arange(count), np.full(count, last)
    )


def far(left: float, laid: Moves, more: int, noise: float = 0.0) -> np.ndarray:
    start = np.add(NOWHERE, [left, 0.0, 0.0])
    ends = play(start, laid, more, noise, np.random.default_rng(3))
    return np.asarray(np.linalg.norm(ends, axis=1))


def test_two_layers_are_seen_to_reach_what_neither_does() -> None:
    assert far(5.0, moves(9.0, -4.0, scatter=0.0), more=2).max() < 1e-9
    assert far(5.0, moves(9.0, scatter=0.0), more=2) == pytest.approx(4.0)


def test_where_one_layer_leads_is_spread_as_it_scatters() -> None:
    """Of a chi distribution with 3 degrees of freedom and that root mean square."""
    ends = far(5.0, moves(5.0, scatter=1.5), more=1)
    expected = stats.chi.cdf(1.5 / (1.5 / np.sqrt(3.0)), 3)
    assert np.mean(ends <= 1.5) == pytest.approx(expected, abs=0.03)


def test_a_reading_and_a_layer_more_bring_it_nearer_unless_nothing_holds_over_it() -> None:
    steps, scatter = (5.0, 1.0, -1.0), [2.0, 0.1, 0.1]
    one, more = (far(5.0, moves(*steps, scatter=scatter), n) for n in (1, 3))
    waxed = far(5.0, moves(*steps, scatter=scatter, last=True), 3)
    assert more.mean() < one.mean() - 0.1
    assert waxed.mean() == pytest.approx(one.mean(), abs=0.1)


def test_a_chance_grows_with_what_is_played_and_with_each_layer_that_may_follow() -> None:
    said = [[comes_true(share, more) for share in (0.0, 0.1, 0.5, 0.9, 1.0)] for more in range(6)]
    np.testing.assert_allclose([row[0] for row in said], 0.0)
    np.testing.assert_allclose([row[-1] for row in said], 1.0)
    assert (np.diff(said, axis=1) > 0.0).all()
    assert (np.diff(np.array(said)[:, 1:-1], axis=0) > 0.0).all()
    # The best of many seems better than it is; whoever may lay five more gets there the oftener.
    assert said[0][2] < 0.5 < said[5][2]


def test_nothing_is_laid_where_stopping_is_best() -> None:
    assert far(0.5, moves(5.0, scatter=0.1), 5) == pytest.approx(0.5)
    nothing = moves(scatter=0.0)
    assert far(2.0, nothing, 5) == pytest.approx(2.0)
