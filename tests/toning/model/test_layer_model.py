"""The layer model as its users see it: the contract, the distributions, the chain."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from sklearn.base import clone
from sklearn.model_selection import GroupKFold, cross_val_predict

from tests.benchmarks.bench_toning import workshop_life
from tests.cases import shared_by
from tests.toning.strips import GROUNDS, afters, applications, known_theta, make_strips
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import KINDS, Application, Kind, Layer, Surface, Trial
from tonematch.toning.model.fit import LayerFit, fit_layer
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.optics.film import FILMS, Laid, lay

Array = NDArray[np.float64]

SHELF = {
    "brown": Layer("brown", "glaze", absorption=(0.3, 0.5, 0.8), scattering=(0.05, 0.05, 0.05)),
    "grey": Layer("grey", "wash"),
}


def everyday(n: int = 24, seed: int = 0) -> list[Trial]:
    """Two layers laid by an everyday hand."""
    half = n // 2
    return make_strips(half, hand=0.15, noise=0.4, seed=seed) + make_strips(
        n - half, layer="grey", kind="wash", hand=0.15, noise=0.4, seed=seed + 1
    )


@pytest.fixture(scope="module")
def model() -> LayerModel:
    return fit_trials(everyday(), SHELF)


def at(
    layer: str, strength: float, coats: int = 1, kind: Kind = "glaze", before: Array = GROUNDS[1]
) -> Application:
    return Application(before, layer, kind, strength, coats)


def test_scikit_learn_contract() -> None:
    trials = everyday()
    again = clone(LayerModel(SHELF, reading_noise=0.3))
    assert again.get_params()["reading_noise"] == 0.3
    assert set(again.get_params()["shelf"]) == set(SHELF)
    pieces = [t.piece for t in trials]
    held = cross_val_predict(
        again, applications(trials), afters(trials), groups=pieces, cv=GroupKFold(4)
    )
    assert held.shape == (24, 3)
    assert delta_e_2000(held, afters(trials)).mean() < 3.0
    assert again.set_params(reading_noise=0.5).reading_noise == 0.5


def test_fit_returns_itself_and_keeps_state_in_fitted_values_only() -> None:
    trials, fresh = everyday(), LayerModel(SHELF)
    assert not [name for name in vars(fresh) if name.endswith("_")]
    assert fresh.fit(applications(trials), afters(trials)) is fresh
    assert set(fresh.layers_) == {"brown", "grey"}
    assert {known.trials for known in fresh.layers_.values()} == {12}


@pytest.mark.proof
@shared_by(10)
@given(seed=st.integers(0, 10**6))
def test_trials_teach_the_same_in_any_order_and_one_by_one(seed: int) -> None:
    """What is remembered of earlier fits changes nothing: the same as a fresh fit to all."""
    rng = np.random.default_rng(seed)
    trials = everyday(int(rng.integers(4, 26)), seed)
    mixed = [trials[i] for i in rng.permutation(len(trials))]
    memory = Memory()
    for n in (len(mixed) - 2, len(mixed) - 1, len(mixed)):
        grown = fit_trials(mixed[:n], SHELF, memory=memory)
    at_once = fit_trials(trials, SHELF)
    X = [*applications(make_strips(4, seed=9)), at("grey", 0.5, kind="wash"), at("new", 0.3)]
    for application in X:
        one, other = (m.predict_distribution(application) for m in (grown, at_once))
        np.testing.assert_allclose(one.lab, other.lab, atol=1e-8, rtol=0)
        np.testing.assert_allclose(one.covariance, other.covariance, atol=1e-8, rtol=0)


@pytest.mark.proof
def test_one_trial_more_fits_only_what_it_teaches(monkeypatch: pytest.MonkeyPatch) -> None:
    """A long logbook: what dust and rubs are expected to show does not move with a film's trial."""
    *known, last = workshop_life(401)
    memory, fitted = Memory(), list[int]()

    def fit(trials: list[Trial]) -> LayerModel:
        return fit_trials(trials, {}, memory=memory)

    def counted(laid: Laid, *more: Any) -> LayerFit:
        fitted.append(len(laid))
        return fit_layer(laid, *more)

    fit(known)
    monkeypatch.setattr("tonematch.toning.model.fitted_layer.fit_layer", counted)
    fit(known[::-1])
    assert fitted == []
    layers = fit([*known, last]).trials_.values()
    assert last.application.kind in FILMS
    # Ten trials each of 40 layers of six kinds, dealt in turn.
    of_films = [len(own) for own in layers if own.layer.kind in FILMS]
    assert sorted(fitted) == sorted(of_films) == [10] * 26 + [11]


def test_recalibration_is_found_when_it_is_asked_for() -> None:
    trials = everyday(12)
    model = fit_trials(trials, SHELF)
    assert "recalibration_" not in vars(model)
    first = model.recalibration_
    assert vars(model)["recalibration_"] == first
    other = everyday(16, seed=7)
    refitted = model.fit(applications(other), afters(other), [t.piece for t in other])
    assert refitted.recalibration_ == fit_trials(other, SHELF).recalibration_ != first


@given(
    L=st.floats(25.0, 92.0),
    a=st.floats(0.0, 18.0),
    b=st.floats(5.0, 40.0),
    strength=st.floats(0.05, 1.0),
    coats=st.integers(1, 3),
    layer=st.sampled_from(["brown", "grey", "unheard of"]),
)
def test_covariance_is_symmetric_and_positive_definite(
    model: LayerModel, L: float, a: float, b: float, strength: float, coats: int, layer: str
) -> None:
    found = model.predict_distribution(
        Application(np.array([L, a, b]), layer, "glaze", strength, coats)
    )
    assert np.isfinite(found.lab).all()
    np.testing.assert_allclose(found.covariance, found.covariance.T, atol=1e-9)
    assert np.linalg.eigvalsh(found.covariance).min() > 0.0


def test_predict_is_the_middle_of_the_distribution(model: LayerModel) -> None:
    X = applications(everyday(8, seed=3))
    np.testing.assert_allclose(
        model.predict(X), [model.predict_distribution(a).lab for a in X], atol=1e-9
    )


def test_many_surfaces_at_once_agree_with_one_by_one(model: LayerModel) -> None:
    strength, exact = np.array([0.25, 0.5, 0.75, 1.0]), np.zeros((3, 3))
    grey, gilding = Layer("grey", "wash"), Surface("oil", "matte")
    lab, covariance = model.predict_layer(grey, Laid.on(GROUNDS, strength, 1, gilding), exact)
    for i in range(4):
        one = model.predict_layer(grey, Laid.on(GROUNDS[i], strength[i], 1, gilding), exact)
        np.testing.assert_allclose(one[0][0], lab[i], atol=1e-9)
        np.testing.assert_allclose(one[1][0], covariance[i], atol=1e-9)


def test_an_uncertain_surface_stays_uncertain(model: LayerModel) -> None:
    sure = model.predict_distribution(at("brown", 0.5), np.zeros((3, 3)))
    unsure = model.predict_distribution(at("brown", 0.5), 4.0 * np.eye(3))
    np.testing.assert_allclose(sure.lab, unsure.lab, atol=1e-9)
    assert np.linalg.eigvalsh(unsure.covariance - sure.covariance).min() > 0.05


def test_chain_carries_uncertainty_as_drawing_surfaces_does(model: LayerModel) -> None:
    """Two layers: the carried covariance against many surfaces drawn and laid one by one."""
    brown, grey, exact = Layer("brown", "glaze"), Layer("grey", "wash"), np.zeros((3, 3))

    def half(before: Array) -> Laid:
        return Laid.on(before, 0.5, 1, Surface())

    first, spread = model.predict_layer(brown, half(GROUNDS[0]), exact)
    _, chained = model.predict_layer(grey, half(first), spread)
    _, own = model.predict_layer(grey, half(first), exact)
    draws = np.random.default_rng(0).multivariate_normal(first[0], spread[0], 4000)
    laid, _ = model.predict_layer(grey, half(draws), exact)
    carried, expected = chained[0] - own[0], np.cov(laid.T)
    np.testing.assert_allclose(np.trace(carried), np.trace(expected), rtol=0.15)
    np.testing.assert_allclose(carried, expected, atol=0.15 * np.trace(expected))


@pytest.mark.parametrize("kind", KINDS)
def test_without_any_trial_each_kind_darkens_gold_or_leaves_it(kind: Kind) -> None:
    empty = LayerModel({}).fit([], np.empty((0, 3)))
    found = empty.predict_distribution(at("something new", 0.5, kind=kind))
    assert np.isfinite(found.lab).all()
    assert found.lab[0] < GROUNDS[1][0] + 1.0
    assert np.linalg.eigvalsh(found.covariance).min() > 0.0
    # A guess from the kind alone must not look like knowledge.
    if kind in {"glaze", "wash", "dust"}:
        assert np.sqrt(np.trace(found.covariance)) > 3.0


def test_an_unknown_layer_learns_from_its_kind(model: LayerModel) -> None:
    truth = lay(known_theta(), Laid.of([at("", 0.5)]))[0]
    before = LayerModel({}).fit([], np.empty((0, 3))).predict([at("other glaze", 0.5)])[0]
    shelf = {name: Layer(name, "glaze") for name in ("brown 1", "brown 2", "brown 3")}
    trials = [t for i, name in enumerate(shelf) for t in make_strips(12, layer=name, seed=i)]
    taught = fit_trials(trials, shelf).predict([at("other glaze", 0.5)])[0]
    assert delta_e_2000(taught, truth) < 0.6 * delta_e_2000(before, truth)
    assert "other glaze" not in model.layers_


def test_shelf_entry_is_where_a_layer_starts() -> None:
    dark = {"brown": Layer("brown", "glaze", absorption=(2.0, 3.0, 4.0), scattering=(0.1,) * 3)}
    light = {"brown": Layer("brown", "glaze", absorption=(0.02,) * 3, scattering=(0.1,) * 3)}
    L_dark, L_light = (
        LayerModel(s).fit([], np.empty((0, 3))).predict([at("brown", 0.5)])[0, 0]
        for s in (dark, light)
    )
    assert L_dark < L_light - 15.0


def test_trials_make_a_layer_surer() -> None:
    wide, narrow = (
        np.trace(fit_trials(make_strips(n, hand=0.05, noise=0.4), {})
        .predict_distribution(at("brown", 0.5)).covariance)
        for n in (2, 40)
    )  # fmt: skip
    assert narrow < 0.5 * wide


@pytest.mark.proof
def test_hand_is_found_and_named() -> None:
    found = [
        fit_trials(make_strips(60, hand=0.15, noise=0.4, seed=s), {})
        .layers_["brown"]
        .components.hand
        for s in range(3)
    ]
    assert np.mean(found) == pytest.approx(0.15, abs=0.05)


def test_one_mistyped_trial_does_not_spoil_the_model() -> None:
    trials = everyday(32)
    wrong = list(trials)
    wrong[3] = Trial(trials[3].application, trials[3].after[[2, 1, 0]], trials[3].piece)
    X = [at("brown", s, before=lab) for lab in GROUNDS for s in (0.3, 0.7)]
    clean, spoiled = fit_trials(trials, SHELF), fit_trials(wrong, SHELF)
    assert delta_e_2000(clean.predict(X), spoiled.predict(X)).max() < 1.5
    for application in X:
        widths = [
            np.sqrt(np.trace(m.predict_distribution(application).covariance))
            for m in (clean, spoiled)
        ]
        assert widths[1] < 2.0 * widths[0]
