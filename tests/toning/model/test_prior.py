"""What is thought of a layer before its trials: hues from published paints, and how sure it is."""

import numpy as np
import pytest

from tests.toning.first_guess_table import (
    ACRYLICS,
    acrylics,
    band_absorption,
    first_steps,
    spectra,
    strength_of,
)
from tests.toning.learning import within_regions
from tonematch.measure.colour.difference import delta_e_2000, local_metric
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.model.prior import first_prior
from tonematch.toning.optics.film import LN_K


@pytest.mark.parametrize("name", ACRYLICS)
def test_acrylics_of_the_table_are_those_that_were_measured(name: str) -> None:
    """Rochester Institute of Technology, in tests/reference: its spectra, over gold."""
    K, _ = spectra(ACRYLICS[name])
    expected = band_absorption(strength_of(K) * K)
    assert np.allclose(swatch_table("pigments.toml")[name]["acrylic"], expected, atol=0.004)


@pytest.mark.proof
def test_a_paint_of_another_maker_lies_within_what_is_foretold() -> None:
    """Acrylics (RIT) from the oil paint of that name (Geldof et al. 2018), at one strength."""
    for model, films in acrylics():
        assert within_regions(model, films)[:, 1].all(), films[0].application.layer


def test_the_shelf_knows_hue_better_than_depth_and_a_kind_neither() -> None:
    shelf = load_shelf()["burnt umber wash"]
    for hue, layer in ((0.28, shelf), (0.5, Layer("new", "wash"))):
        bands = first_prior(layer).covariance[LN_K, LN_K]
        # Of a difference of two bands.
        assert bands[0, 0] + bands[1, 1] - 2.0 * bands[0, 1] == pytest.approx(2 * hue**2, rel=0.05)
        assert bands[0, 1] > 2.0 * hue**2


@pytest.mark.parametrize("kind", ["seal", "glaze", "wash", "dust", "wax"])
def test_a_kind_is_guessed_after_its_layers_on_the_shelf(kind: str) -> None:
    known = swatch_table("kinds.toml")[kind]
    for number in ("absorption", "scattering"):
        its = [getattr(layer, number) for layer in load_shelf().values() if layer.kind == kind]
        ratio = np.log(known[number]) - np.log(its).mean(axis=0)
        assert np.allclose(ratio, np.log(2.0), atol=0.5)


@pytest.mark.proof
@pytest.mark.parametrize("workshop", ["first workshop", "second workshop"])
def test_a_first_step_is_foretold_with_a_doubt_that_it_bears_out(workshop: str) -> None:
    """Nine in ten lie in the 90 % region, and the doubt is not made idle by being too wide."""
    model, trials = fit_trials([], {}), first_steps(6)[workshop]
    found = [model.predict_distribution(t.application) for t in trials]
    error = [float(delta_e_2000(f.lab, t.after)) for f, t in zip(found, trials, strict=True)]
    stated = [np.trace(local_metric(f.lab[None])[0] @ f.covariance) for f in found]
    assert np.sqrt(np.mean(stated)) < 3.0 * np.sqrt(np.mean(np.square(error)))
    assert within_regions(model, trials)[:, 1].mean() >= 0.85
