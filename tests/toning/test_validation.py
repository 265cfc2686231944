"""Held-out checks: no piece on both sides, every trial held out once, means worked by hand."""

import numpy as np
import pytest
from scipy.stats import chi2
from strips import make_strips

from tonematch.errors import TrialError
from tonematch.measure.difference import delta_e_2000
from tonematch.toning.core import Application, Prediction, Trial
from tonematch.toning.validation import (
    MODEL,
    WITHIN_90,
    baselines,
    check_model,
    folds,
    mahalanobis,
    predict_trials,
)


def on_pieces(pieces: list[str]) -> list[Trial]:
    return [
        Trial(t.application, t.after, piece)
        for t, piece in zip(make_strips(len(pieces), noise=0.4), pieces, strict=True)
    ]


def test_a_piece_is_never_on_both_sides() -> None:
    trials = on_pieces(list("aabbbcddefgghhiijj"))
    for learn, test in folds(trials):
        assert not {t.piece for t in learn} & {t.piece for t in test}
        assert len(learn) + len(test) == len(trials)


@pytest.mark.parametrize("pieces", [list("aabbbcddefgghhiijj"), [""] * 9, ["one"] * 6])
def test_every_trial_is_held_out_once(pieces: list[str]) -> None:
    trials = on_pieces(pieces)
    held = [id(t) for _, test in folds(trials) for t in test]
    assert sorted(held) == sorted(id(t) for t in trials)


def test_check_reports_the_mean_of_held_out_differences() -> None:
    trials = make_strips(12, hand=0.1, noise=0.4)
    check = check_model(trials, {})
    assert check.trials == 12
    assert set(check.mean_delta_e_2000) == {MODEL, *baselines()}
    before = np.array([t.application.before for t in trials])
    after = np.array([t.after for t in trials])
    # No change predicts the surface before: its mean needs no folds.
    expected = float(delta_e_2000(before, after).mean())
    assert check.mean_delta_e_2000["no change"] == pytest.approx(expected)
    assert check.mean_delta_e_2000[MODEL] < expected
    assert 0.0 <= check.coverage_90 <= 1.0


def test_too_few_trials_are_refused_with_a_sentence() -> None:
    with pytest.raises(TrialError, match=r"3 trials are too few .* at least 4\."):
        check_model(make_strips(3), {})


def test_region_holds_nine_tenths_of_a_normal() -> None:
    assert pytest.approx(chi2.ppf(0.9, 3), abs=1e-4) == WITHIN_90
    covariance = np.array([[2.0, 0.5, 0.0], [0.5, 1.0, 0.2], [0.0, 0.2, 0.5]])
    prediction = Prediction(np.zeros(3), covariance)
    draws = np.random.default_rng(0).multivariate_normal(np.zeros(3), covariance, 4000)
    application = Application(np.zeros(3), "brown", "glaze", 1.0)
    inside = [mahalanobis(prediction, Trial(application, draw)) <= WITHIN_90 for draw in draws]
    assert np.mean(inside) == pytest.approx(0.9, abs=0.015)


def test_held_out_trials_are_predicted_from_the_others() -> None:
    trials = make_strips(24)
    predictions = predict_trials(trials[:16], trials[16:], {})
    found = np.array([p.lab for p in predictions])
    assert delta_e_2000(found, np.array([t.after for t in trials[16:]])).mean() < 0.5
