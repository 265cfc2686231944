"""What a trial taught: the surprise weighed by its doubt, the layer's strength read back."""

from dataclasses import replace

import numpy as np
import pytest

from tests.cases import in_ci
from tests.toning.strips import known_theta, make_strips
from tonematch.toning.core import Prediction, Trial
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.optics.film import LN_K, LN_S
from tonematch.toning.validation.lessons import layer_scatter, surprise, taught

UMBER = Prediction(np.array([80.0, 8.0, 30.0]), 0.5 * np.eye(3))


def thicker(percent: float) -> list[Trial]:
    """Trials of the same film whose coats are so much thicker."""
    theta = known_theta()
    theta[LN_K] += np.log1p(percent / 100.0)
    theta[LN_S] += np.log1p(percent / 100.0)
    return make_strips(16, theta=theta, noise=0.1, seed=4)


def learned(trials: list[Trial]) -> LayerModel:
    return fit_trials(trials, {})


@pytest.mark.parametrize(
    ("got", "words"),
    [
        ((80.5, 8.3, 30.2), "within what was expected"),
        ((78.0, 8.0, 30.0), "darker than expected, as happens once in "),
        ((77.3, 8.0, 30.0), "darker than expected, as happens only once in "),
        ((60.0, 8.0, 30.0), "too far off to be chance"),
    ],
)
def test_surprise_is_weighed_by_the_doubt(got: tuple[float, float, float], words: str) -> None:
    assert words in surprise(UMBER, got)


@pytest.mark.parametrize(
    ("percent", "words"),
    [
        (25.0, "clearly stronger"),
        (-20.0, "clearly weaker"),
        in_ci(10.0, "a little stronger"),
    ],
)
def test_a_change_of_strength_is_read_back(percent: float, words: str) -> None:
    """A film of so much more K and S is the same film, so much thicker."""
    trials = thicker(percent)
    said = taught(learned(thicker(0.0)), learned(trials), trials[5])
    assert said == f"Your brown now counts as {words} than it was thought to be."


def test_more_of_the_same_only_makes_surer() -> None:
    trials = make_strips(8, noise=0.3, seed=1)
    more = [*trials, *make_strips(12, noise=0.3, seed=2)]
    assert "does what was thought" in taught(learned(trials), learned(more), trials[4])


def test_a_surprise_is_not_called_what_was_thought() -> None:
    trials = make_strips(16, noise=0.3, seed=1)
    model = learned(trials)
    far = replace(trials[4], after=trials[4].after - np.array([15.0, 0.0, 0.0]))
    assert "within what was expected" not in surprise(
        model.predict_distribution(far.application), far.after
    )
    assert "thought of as before" in taught(model, model, far)
    # The two sentences weigh the same prediction.
    doubtful = Prediction(far.after, np.eye(3))
    assert "does what was thought" in taught(model, model, far, doubtful)


def test_a_layer_that_changes_its_hue_says_so() -> None:
    theta = known_theta()
    theta[LN_K] += np.array([-0.4, 0.3, 0.0])
    trials = make_strips(16, theta=theta, noise=0.1, seed=4)
    said = taught(learned(thicker(0.0)), learned(trials), trials[9])
    assert "redder" in said


@pytest.mark.parametrize("hand", [0.06, 0.3])
def test_scatter_is_named_near_its_truth(hand: float) -> None:
    said = layer_scatter(learned(make_strips(60, hand=hand, noise=0.3, seed=8)), "brown")
    assert said.startswith("Your brown varies by about ")
    told = float(said.split("about ")[1].split("%")[0]) / 100.0
    assert told == pytest.approx(hand, rel=0.35)


def test_scatter_of_a_layer_with_few_trials_is_not_named() -> None:
    assert layer_scatter(learned(make_strips(3)), "brown") == ""
