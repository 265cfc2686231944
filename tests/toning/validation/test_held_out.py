"""Held-out checks: no piece on both sides, every trial held out once, means worked by hand."""

import numpy as np
import pytest

from tests.toning.learning import demo_trials, ratio_to_best
from tests.toning.strips import make_strips
from tonematch.errors import TrialError
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Application, Trial
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.validation.held_out import (
    MODEL,
    baselines,
    check_model,
    folds,
    layers_beneath,
    order_folds,
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


@pytest.mark.proof
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
    assert 0.0 <= check.coverage_50 <= check.coverage_90 <= 1.0
    # Each strip is a piece of its own with one layer on it: there is no order to hold out.
    assert check.in_new_orders == 0
    assert check.in_new_orders_delta_e_2000 == {}


def test_no_order_and_no_piece_is_on_both_sides() -> None:
    trials = demo_trials()
    beneath = {id(t): under for t, under in zip(trials, layers_beneath(trials), strict=True)}
    tested = 0
    for learn, test in order_folds(trials):
        asked = {(beneath[id(t)], t.application.layer) for t in test}
        known = {(beneath[id(t)], t.application.layer) for t in learn}
        assert not asked & known
        assert not {t.piece for t in test} & {t.piece for t in learn}
        assert all(beneath[id(t)] for t in test)
        tested += len(test)
    assert tested >= 40


def test_a_layer_lies_on_the_step_before_on_the_same_gold() -> None:
    rows = [
        ("a", "", 1, "seal"),
        ("a", "", 2, "wash"),
        ("a", "edge", 3, "glaze"),
        ("b", "", 2, "wax"),
        ("a", "edge", 4, "rub"),  # two golds in turn
        ("b", "", 3, "dust"),
    ]
    trials = [
        Trial(
            Application(np.zeros(3), layer, "wash", 1.0), np.zeros(3), piece, step=step, zone=zone
        )
        for piece, zone, step, layer in rows
    ]
    assert layers_beneath(trials) == ["", "seal", "", "", "glaze", "wax"]
    assert layers_beneath([]) == []


@pytest.mark.proof
def test_orders_never_seen_are_predicted_no_worse_than_by_the_best_plainer_way() -> None:
    """Kubelka-Munk knows what a layer does on a ground on which it was never laid."""
    errors = check_model(demo_trials(), load_shelf()).in_new_orders_delta_e_2000
    assert ratio_to_best(dict(errors)) <= 1.1


def test_too_few_trials_are_refused_with_a_sentence() -> None:
    with pytest.raises(TrialError, match=r"3 trials are too few .* at least 4\."):
        check_model(make_strips(3), {})


def test_held_out_trials_are_predicted_from_the_others() -> None:
    trials = make_strips(24)
    predictions = predict_trials(trials[:16], trials[16:], {})
    found = np.array([p.lab for p in predictions])
    assert delta_e_2000(found, np.array([t.after for t in trials[16:]])).mean() < 0.5
