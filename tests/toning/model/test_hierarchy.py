"""Layers teach each other, as far as they agree; and how much a hand varies."""

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import multivariate_normal

from tests.toning.strips import afters, applications, make_strips
from tonematch.toning.core import SHELF_KINDS, Layer
from tonematch.toning.model.fit import LayerFit, fit_layer
from tonematch.toning.model.fitted_layer import LayerTrials
from tonematch.toning.model.hierarchy import (
    EXPECTED,
    SHIFT_DECIMALS,
    KindEffect,
    Told,
    common_share,
    effects,
    informed,
    pool_components,
    weigh_components,
)
from tonematch.toning.model.prior import Prior, VarianceComponents, first_prior
from tonematch.toning.optics.film import LN_GAMMA, PARAMETERS, Laid

Array = NDArray[np.float64]

ROUNDED = 0.6 * 10.0**-SHIFT_DECIMALS
PRIOR = Prior(np.zeros(PARAMETERS), np.diag(np.linspace(0.5, 2.0, PARAMETERS)))
SHARE = np.full(PARAMETERS, 0.3)
# Of two readings that err by 0.4 in each of L*, a*, b*.
NOISE = np.tile(0.16 * np.eye(3), (1, 2, 1, 1))


def off(*first: float) -> Array:
    """Standard deviations off the prior, the others none."""
    return np.array([*first, *[0.0] * (PARAMETERS - len(first))])


def told(shift: Array, precision: float) -> Told:
    """A layer that lies `shift` standard deviations off its prior, known to `precision`."""
    unit = np.linalg.inv(PRIOR.root)
    information = unit.T @ (precision * np.eye(PARAMETERS)) @ unit
    # The most probable theta shrinks towards the prior as the data's precision falls.
    seen = PRIOR.mean + PRIOR.root @ (shift * precision / (precision + 1.0))
    covariance = np.linalg.inv(information + np.linalg.inv(PRIOR.covariance))
    return Told.by(PRIOR, LayerFit(seen, covariance, information, np.empty(0)))


def kind_effect(layers: Sequence[Told], share: Array) -> tuple[KindEffect, float]:
    """What layers of one kind say of it, and the evidence for the share."""
    found, likely = effects({"glaze": layers}, share)
    return found["glaze"], likely


def test_one_well_known_layer_moves_its_kind_by_the_common_share() -> None:
    # Two-level normal model in closed form: E[common | x] = share x for x known exactly.
    effect, _ = kind_effect([told(off(1.0, -1.0), 1e6)], SHARE)
    np.testing.assert_allclose(effect.shift, off(0.3, -0.3), atol=ROUNDED)
    np.testing.assert_allclose(effect.variance, 0.3 * 0.7 + 0.7, atol=ROUNDED)


def test_many_layers_that_agree_move_their_kind_almost_all_the_way() -> None:
    # n layers known exactly: E = n x share / (n share + 1 - share).
    effect, _ = kind_effect([told(off(1.0), 1e6)] * 9, SHARE)
    np.testing.assert_allclose(effect.shift, off(2.7 / 3.4), atol=ROUNDED)


def test_layers_that_disagree_cancel() -> None:
    effect, _ = kind_effect([told(off(1.0, 1.0), 1e6), told(off(-1.0, -1.0), 1e6)], SHARE)
    np.testing.assert_allclose(effect.shift, 0.0, atol=1e-9)


def test_nothing_known_leaves_the_prior_as_it_was() -> None:
    same = informed(PRIOR, kind_effect([told(off(3.0, 3.0), 0.0)], SHARE)[0])
    np.testing.assert_allclose(same.mean, PRIOR.mean, atol=1e-9)
    np.testing.assert_allclose(same.covariance, PRIOR.covariance)


def test_an_informed_prior_is_narrower_and_shifted() -> None:
    new = informed(PRIOR, kind_effect([told(off(1.0, -1.0), 50.0)] * 3, SHARE)[0])
    assert (np.diag(new.covariance) < np.diag(PRIOR.covariance)).all()
    assert new.mean[0] > PRIOR.mean[0]
    assert new.mean[1] < PRIOR.mean[1]


def test_evidence_for_a_share_is_that_of_one_normal_distribution() -> None:
    """Of what was seen of all layers of a kind together, by SciPy, but for a constant."""
    rng = np.random.default_rng(3)
    known, seen = (2.0, 0.5, 8.0), rng.standard_normal((3, PARAMETERS))
    layers = [told(x, precision) for x, precision in zip(seen, known, strict=True)]

    def by_scipy(share: float) -> float:
        covariance = share + np.diag((1.0 - share) + 1.0 / np.array(known))
        return float(multivariate_normal(cov=covariance).logpdf(seen.T).sum())

    low, high = (kind_effect(layers, np.full(PARAMETERS, share))[1] for share in (0.2, 0.8))
    assert high - low == pytest.approx(by_scipy(0.8) - by_scipy(0.2), rel=1e-9)


def test_layers_that_agree_share_more_than_layers_that_do_not() -> None:
    """What is in them agrees, how they lie does not: both are found, of many kinds together."""
    rng, kinds = np.random.default_rng(5), {}
    for name in SHELF_KINDS:
        common = np.where(np.arange(PARAMETERS) < LN_GAMMA, 0.9, 0.1)
        kind = np.sqrt(common) * rng.standard_normal(PARAMETERS)
        own = np.sqrt(1.0 - common) * rng.standard_normal((4, PARAMETERS))
        kinds[name] = [told(kind + one, 100.0) for one in own]
    share = common_share(kinds)
    assert share[0] >= 0.8
    assert share[LN_GAMMA] <= 0.2


def test_films_teach_each_other_how_they_lie_and_not_what_is_in_them() -> None:
    """A glaze without trials leans on a wash's manner alone; dust and rubs keep theirs."""
    found, _ = effects({"wash": [told(np.ones(PARAMETERS), 1e6)], "glaze": [], "rub": []}, SHARE)
    manner = np.where(np.arange(PARAMETERS) < LN_GAMMA, 0.0, 0.3)
    np.testing.assert_allclose(found["wash"].shift, 0.3, atol=ROUNDED)
    np.testing.assert_allclose(found["glaze"].shift, manner, atol=ROUNDED)
    np.testing.assert_array_equal(found["rub"].shift, 0.0)
    np.testing.assert_allclose(found["rub"].variance, 1.0)


def test_without_layers_a_half_is_common() -> None:
    np.testing.assert_array_equal(common_share({}), 0.5)


def rows(n: int, hand: float, seed: int = 0) -> LayerTrials:
    trials = make_strips(n, hand=hand, noise=0.4, seed=seed)
    pieces, layer = np.array([t.piece for t in trials]), Layer("brown", "glaze")
    laid = Laid.of(applications(trials))
    return LayerTrials(layer, laid, afters(trials), NOISE.repeat(n, 0), pieces, np.arange(n))


def pooled(
    layers: dict[str, LayerTrials],
) -> tuple[VarianceComponents, dict[str, VarianceComponents]]:
    prior = first_prior(Layer("brown", "glaze"))
    evidence = {}
    for name, own in layers.items():
        fit = fit_layer(own.laid, own.after, prior, EXPECTED, NOISE)
        evidence[name] = weigh_components(own, fit, prior)
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
