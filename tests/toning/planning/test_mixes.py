"""Mixes of two pigments: by the mixing law, as spectra mix, and of use to a plan."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.demonstration.films import lay as lay_spectrum
from tests.toning.simulator import lab_of, make_trials, new_surface, workshop
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.mixes import can_mix, learned_mix, mix, mixes_of, with_mixes
from tonematch.toning.planning.plan import plan_for

SHELF = load_shelf()
UMBER, OCHRE, BLACK = (
    SHELF[name] for name in ("raw umber wash", "raw sienna wash", "lamp black wash")
)
WATER = Surface("water", "burnished")


@given(a=st.integers(1, 9), b=st.integers(1, 9))
def test_absorption_and_scattering_add_by_share(a: int, b: int) -> None:
    """Duncan 1940."""
    mixed = mix(UMBER, OCHRE, (a, b)).layer
    for got, one, other in (
        (mixed.absorption, UMBER.absorption, OCHRE.absorption),
        (mixed.scattering, UMBER.scattering, OCHRE.scattering),
    ):
        expected = (a * np.array(one) + b * np.array(other)) / (a + b)
        assert got == pytest.approx(expected)


def test_only_like_binder_solvent_and_kind_mix() -> None:
    assert can_mix(UMBER, OCHRE)
    assert not can_mix(UMBER, UMBER)
    for name in ("raw umber glaze", "casein ochre wash", "rottenstone dust", "clear shellac seal"):
        assert not can_mix(UMBER, SHELF[name])


def test_a_mix_keeps_the_cautions_of_both() -> None:
    mixed = mix(UMBER, OCHRE).layer
    assert set(UMBER.cautions) | set(OCHRE.cautions) == set(mixed.cautions)
    rigid = replace(OCHRE, reversible="not reversible")
    assert mix(UMBER, rigid).layer.reversible == "not reversible"


@pytest.mark.proof
def test_a_layer_mixed_with_its_like_stays_what_it_is(demo_model: LayerModel) -> None:
    twin = replace(UMBER, name="the same umber")
    model = demo_model.with_layers({twin.name: demo_model.layers_[UMBER.name]})
    learned = learned_mix(model, mix(UMBER, twin, (1, 2)))
    assert learned.fit.theta == pytest.approx(model.layers_[UMBER.name].fit.theta)


def test_a_mix_is_predicted_between_its_parts(demo_model: LayerModel) -> None:
    both = mix(OCHRE, BLACK)
    model = demo_model.with_layers({both.layer.name: learned_mix(demo_model, both)})
    L = [_laid(model, layer)[0] for layer in (OCHRE, both.layer, BLACK)]
    assert L[2] < L[1] < L[0]


@pytest.mark.proof
def test_spectra_mix_as_the_bands_do() -> None:
    """Green and black wash of the simulator in one pot, against the mix of their spectra."""
    model = fit_trials(make_trials(200, 5), {})
    names = ("green wash", "black wash")
    one, other = (Layer(name, "wash", binder="gum", solvent="water") for name in names)
    both = mix(one, other)
    model = model.with_layers({both.layer.name: learned_mix(model, both)})
    green, black = (workshop()[name].film for name in names)
    film = replace(green, K=(green.K + black.K) / 2.0, S=(green.S + black.S) / 2.0)
    leaf = new_surface(np.random.default_rng(2))
    far = []
    for strength in (0.25, 0.5, 1.0):
        truth = lab_of(lay_spectrum(leaf, film, strength))
        laid = Laid.on(lab_of(leaf), strength, 1.0, WATER)
        got, _ = model.predict_layer(both.layer, laid, np.zeros((3, 3)))
        far.append(float(delta_e_2000(got[0], truth)))
    assert np.mean(far) < 3.0


def test_mixes_are_offered_where_they_come_nearer_than_either_part(demo_model: LayerModel) -> None:
    model = demo_model
    known = dict(model.layers_)
    before = np.array([88.0, 6.0, 35.0])
    both = mix(OCHRE, BLACK, (2, 1))
    target = _laid(model.with_layers({both.layer.name: learned_mix(model, both)}), both.layer)
    layers = [OCHRE, BLACK, UMBER]
    sealed = Surface("water", "burnished", (SHELF["clear shellac seal"],))
    mixed, offered = with_mixes(model, layers, before, target, sealed)
    assert model.layers_ == known  # a fitted model is not written into
    assert both.layer.name in [layer.name for layer in offered]
    gap = Gap(before, target, np.zeros((3, 3)), np.zeros((3, 3)))
    plain, better = (
        plan_for(gap, Workshop(mixed, some, sealed, most_layers=1)).plans[0]
        for some in (layers, [*layers, *offered])
    )
    # In eighths of full strength one wash alone comes to about 0.9.
    assert better.delta_e < plain.delta_e - 0.25


def test_layers_without_trials_are_not_mixed() -> None:
    layers = [UMBER, OCHRE]
    assert len(list(mixes_of(layers))) == 3
    model = fit_trials([], SHELF)
    _, offered = with_mixes(model, layers, [88.0, 6.0, 35.0], [75.0, 8.0, 30.0], Surface())
    assert offered == []


def _laid(model: LayerModel, layer: Layer) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    laid = Laid.on([88.0, 6.0, 35.0], 0.5, 1.0, WATER)
    lab, _ = model.predict_layer(layer, laid, np.zeros((3, 3)))
    return np.asarray(lab[0])
