"""A layer's page: the curve over its strengths, as learned and as first guessed."""

import numpy as np
import pytest

from tonematch.errors import ValueRefused
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Application
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.validation.curves import first_guess, load_grounds, strength_curve

UMBER = load_shelf()["raw umber wash"]


def test_grounds_are_a_light_and_a_dark_gold() -> None:
    light, dark = load_grounds()
    assert light.lab[0] > dark.lab[0] + 20.0
    # Both are gold: hue between orange and yellow (CIELAB hue angle 40 to 100 degrees).
    for ground in (light, dark):
        assert 40.0 < np.degrees(np.arctan2(ground.lab[2], ground.lab[1])) < 100.0


def test_a_wash_moves_the_ground_further_the_stronger_it_is() -> None:
    light, _ = load_grounds()
    curve = strength_curve(first_guess(UMBER), UMBER, light)
    assert np.all(np.diff(curve.moved) > 0.0)
    assert curve.strengths[-1] == UMBER.strengths[-1]
    # At hardly any strength nothing is laid: the curve starts at the ground itself.
    bare = strength_curve(first_guess(UMBER), UMBER, light, np.array([1e-6]))
    assert bare.moved[0] < 0.01


def test_curve_is_what_the_model_foretells() -> None:
    _, dark = load_grounds()
    model = first_guess(UMBER)
    curve = strength_curve(model, UMBER, dark, np.array([0.25, 1.0]))
    for strength, lab, moved in zip(curve.strengths, curve.lab, curve.moved, strict=True):
        foretold = model.predict([Application(dark.lab, UMBER.name, UMBER.kind, strength)])[0]
        np.testing.assert_allclose(lab, foretold, atol=1e-9)
        assert moved == pytest.approx(float(delta_e_2000(dark.lab, foretold)))


def test_trials_make_the_curve_surer_than_the_first_guess() -> None:
    shelf = load_shelf()
    trials = [
        trial
        for trial in read_trials(swatch_path("demo", "trials.csv"), shelf)
        if trial.application.layer == UMBER.name
    ]
    assert len(trials) >= 4
    light, _ = load_grounds()
    full = np.array([1.0])
    learned = strength_curve(fit_trials(trials, shelf), UMBER, light, full)
    guessed = strength_curve(first_guess(UMBER), UMBER, light, full)
    assert np.trace(learned.covariance[0]) < 0.5 * np.trace(guessed.covariance[0])


@pytest.mark.parametrize("strength", [0.0, -1.0, np.nan])
def test_a_strength_that_cannot_be_laid_is_refused(strength: float) -> None:
    light, _ = load_grounds()
    with pytest.raises(ValueRefused, match="above 0"):
        strength_curve(first_guess(UMBER), UMBER, light, np.array([strength]))
