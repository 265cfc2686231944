"""Layers teach each other, as far as they agree; and how much a hand varies."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.toning.strips import afters, applications, make_strips
from tonematch.toning.core import Layer
from tonematch.toning.model.fit import LayerFit, fit_layer
from tonematch.toning.model.fitted_layer import LayerTrials
from tonematch.toning.model.hierarchy import (
    COMMON,
    EXPECTED,
    SHIFT_DECIMALS,
    informed,
    kind_effect,
    pool_components,
    weigh_components,
)
from tonematch.toning.model.prior import Prior, VarianceComponents, first_prior
from tonematch.toning.optics.film import Laid

Array = NDArray[np.float64]

ROUNDED = 0.6 * 10.0**-SHIFT_DECIMALS
PRIOR = Prior(np.array([1.0, -2.0]), np.diag([0.5, 2.0]))


def fitted(shift: Array, precision: float) -> tuple[Prior, LayerFit]:
    """A layer that lies `shift` standard deviations off its prior, known to `precision`."""
    unit = np.linalg.inv(PRIOR.root)
    information = unit.T @ (precision * np.eye(2)) @ unit
    # The most probable theta shrinks towards the prior as the data's precision falls.
    seen = PRIOR.mean + PRIOR.root @ (shift * precision / (precision + 1.0))
    covariance = np.linalg.inv(information + np.linalg.inv(PRIOR.covariance))
    return PRIOR, LayerFit(seen, covariance, information, np.empty(0))


def test_one_well_known_layer_moves_its_kind_by_the_common_share() -> None:
    # Two-level normal model in closed form: E[common | x] = COMMON x for x known exactly.
    effect = kind_effect([fitted(np.array([1.0, -1.0]), 1e6)])
    np.testing.assert_allclose(effect.shift, [COMMON, -COMMON], atol=ROUNDED)
    np.testing.assert_allclose(effect.variance, COMMON * (1.0 - COMMON), atol=ROUNDED)


def test_many_layers_that_agree_move_their_kind_almost_all_the_way() -> None:
    # n layers known exactly: E = n x COMMON / (n COMMON + 1 - COMMON).
    effect = kind_effect([fitted(np.array([1.0, 0.0]), 1e6)] * 9)
    np.testing.assert_allclose(effect.shift, [0.9, 0.0], atol=ROUNDED)


def test_layers_that_disagree_cancel() -> None:
    pairs = [fitted(np.array([1.0, 1.0]), 1e6), fitted(np.array([-1.0, -1.0]), 1e6)]
    np.testing.assert_allclose(kind_effect(pairs).shift, 0.0, atol=1e-9)


def test_nothing_known_leaves_the_prior_as_it_was() -> None:
    same = informed(PRIOR, kind_effect([fitted(np.array([3.0, 3.0]), 0.0)]))
    np.testing.assert_allclose(same.mean, PRIOR.mean, atol=1e-9)
    np.testing.assert_allclose(same.covariance, PRIOR.covariance)


def test_an_informed_prior_is_narrower_and_shifted() -> None:
    effect = kind_effect([fitted(np.array([1.0, -1.0]), 50.0)] * 3)
    new = informed(PRIOR, effect)
    assert (np.diag(new.covariance) < np.diag(PRIOR.covariance)).all()
    assert new.mean[0] > PRIOR.mean[0]
    assert new.mean[1] < PRIOR.mean[1]


def rows(n: int, hand: float, seed: int = 0) -> LayerTrials:
    trials = make_strips(n, hand=hand, noise=0.4, seed=seed)
    pieces, layer = np.array([t.piece for t in trials]), Layer("brown", "glaze")
    laid = Laid.of(applications(trials))
    return LayerTrials(layer, laid, afters(trials), pieces, np.arange(n))


def pooled(
    layers: dict[str, LayerTrials],
) -> tuple[VarianceComponents, dict[str, VarianceComponents]]:
    prior = first_prior(Layer("brown", "glaze"))
    evidence = {}
    for name, own in layers.items():
        fit = fit_layer(own.laid, own.after, prior, EXPECTED, 0.4)
        evidence[name] = weigh_components(own, fit, prior, 0.4)
    return pool_components(evidence)


@pytest.mark.parametrize("hand", [0.05, 0.15, 0.3])
def test_hand_is_found_with_enough_trials(hand: float) -> None:
    found = [pooled({"brown": rows(60, hand, s)})[1]["brown"] for s in range(3)]
    assert np.mean([f.hand for f in found]) == pytest.approx(hand, rel=0.3)
    # The law is exact here: readings differ from it by the hand and by noise alone.
    assert np.mean([f.misfit for f in found]) < 0.4


def test_without_trials_the_workshop_is_as_expected() -> None:
    workshop, by_layer = pooled({})
    assert by_layer == {}
    assert workshop.hand == pytest.approx(EXPECTED.hand, rel=0.2)
    assert workshop.misfit == pytest.approx(EXPECTED.misfit, rel=0.3)


def test_a_layer_with_few_trials_leans_on_the_workshop() -> None:
    layers = {"steady 1": rows(40, 0.05, 1), "steady 2": rows(40, 0.05, 2), "new": rows(2, 0.3, 3)}
    workshop, by_layer = pooled(layers)
    alone = pooled({"new": layers["new"]})[1]["new"]
    assert workshop.hand < EXPECTED.hand
    assert by_layer["new"].hand < alone.hand
