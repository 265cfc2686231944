"""A logbook that grows: what is new is added, everything else is learned anew."""

from dataclasses import replace

import numpy as np
import pytest

from tests.toning.strips import applications, make_strips
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Layer, Trial
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.model.learner import Learner

SHELF = {"brown": Layer("brown", "glaze"), "grey": Layer("grey", "wash")}


@pytest.fixture(scope="module")
def trials() -> list[Trial]:
    grey = make_strips(8, layer="grey", kind="wash", hand=0.15, noise=0.4, seed=1)
    return grey + make_strips(8, hand=0.15, noise=0.4)


def test_one_trial_more_leaves_other_layers_alone(trials: list[Trial]) -> None:
    learner = Learner(SHELF, few=4)
    first, second = learner.learn(trials[:-1]), learner.learn(trials)
    assert second.layers_["grey"] is first.layers_["grey"]
    assert second.layers_["brown"].trials == first.layers_["brown"].trials + 1


def test_a_corrected_trial_is_learned_anew(trials: list[Trial]) -> None:
    learner = Learner(SHELF, few=4)
    learner.learn(trials[:-1])
    corrected = [replace(trials[0], after=trials[0].after + 5.0), *trials[1:]]
    found = learner.learn(corrected).predict(applications(trials))
    assert found == pytest.approx(fit_trials(corrected, SHELF).predict(applications(trials)))


def test_a_short_logbook_gives_one_model_whatever_way_it_grew(trials: list[Trial]) -> None:
    learner = Learner(SHELF)
    for n in range(14, 17):
        model = learner.learn(trials[:n])
    X = applications(trials)
    assert np.all(delta_e_2000(model.predict(X), fit_trials(trials, SHELF).predict(X)) == 0.0)
