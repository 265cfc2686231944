"""Layers of one kind teach each other, as far as they agree."""

import numpy as np
from numpy.typing import NDArray

from tonematch.toning.model.fit import LayerFit
from tonematch.toning.model.hierarchy import COMMON, common_departure, informed
from tonematch.toning.model.prior import Belief

Array = NDArray[np.float64]

BELIEF = Belief(np.array([1.0, -2.0]), np.diag([0.5, 2.0]))


def fitted(shift: Array, precision: float) -> tuple[Belief, LayerFit]:
    """A layer that lies `shift` standard deviations off its belief, known to `precision`."""
    unit = np.linalg.inv(BELIEF.root)
    information = unit.T @ (precision * np.eye(2)) @ unit
    # The most probable theta shrinks towards the belief as the data's precision falls.
    seen = BELIEF.mean + BELIEF.root @ (shift * precision / (precision + 1.0))
    covariance = np.linalg.inv(information + np.linalg.inv(BELIEF.covariance))
    return BELIEF, LayerFit(seen, covariance, information, np.empty(0))


def test_one_well_known_layer_moves_its_kind_by_the_common_share() -> None:
    # Two-level normal model in closed form: E[common | x] = COMMON x for x known exactly.
    departure = common_departure([fitted(np.array([1.0, -1.0]), 1e6)])
    np.testing.assert_allclose(departure.share, [COMMON, -COMMON], atol=1e-3)
    np.testing.assert_allclose(departure.variance, COMMON * (1.0 - COMMON), atol=1e-3)


def test_many_layers_that_agree_move_their_kind_almost_all_the_way() -> None:
    # n layers known exactly: E = n x COMMON / (n COMMON + 1 - COMMON).
    departure = common_departure([fitted(np.array([1.0, 0.0]), 1e6)] * 9)
    np.testing.assert_allclose(departure.share, [0.9, 0.0], atol=1e-3)


def test_layers_that_disagree_cancel() -> None:
    pairs = [fitted(np.array([1.0, 1.0]), 1e6), fitted(np.array([-1.0, -1.0]), 1e6)]
    np.testing.assert_allclose(common_departure(pairs).share, 0.0, atol=1e-9)


def test_nothing_known_leaves_the_belief_as_it_was() -> None:
    same = informed(BELIEF, common_departure([fitted(np.array([3.0, 3.0]), 0.0)]))
    np.testing.assert_allclose(same.mean, BELIEF.mean, atol=1e-9)
    np.testing.assert_allclose(same.covariance, BELIEF.covariance)


def test_an_informed_belief_is_narrower_and_shifted() -> None:
    departure = common_departure([fitted(np.array([1.0, -1.0]), 50.0)] * 3)
    new = informed(BELIEF, departure)
    assert (np.diag(new.covariance) < np.diag(BELIEF.covariance)).all()
    assert new.mean[0] > BELIEF.mean[0]
    assert new.mean[1] < BELIEF.mean[1]
