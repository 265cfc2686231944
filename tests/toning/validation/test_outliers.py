"""Mistyped trials: pointed out by row with the slip named, and harmless to what is learned."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.cases import in_ci
from tests.toning.learning import demo_trials
from tests.toning.simulator import make_trials
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.validation.outliers import find_outliers

Mistype = Callable[[Trial], Trial]
ROW = 1  # raw umber wash on overmantel A, strength 0.5, from L* 89 to 86


def swapped(trial: Trial) -> Trial:
    a = trial.application
    return replace(trial, application=replace(a, before=trial.after), after=a.before)


def stronger(factor: float) -> Mistype:
    def mistype(trial: Trial) -> Trial:
        a = trial.application
        return replace(trial, application=replace(a, strength=a.strength * factor))

    return mistype


def hues_swapped_before(trial: Trial) -> Trial:
    a = trial.application
    return replace(trial, application=replace(a, before=a.before[[0, 2, 1]]))


def hues_swapped_after(trial: Trial) -> Trial:
    return replace(trial, after=trial.after[[0, 2, 1]])


def lightness_slipped(trial: Trial) -> Trial:
    return replace(trial, after=trial.after - np.array([20.0, 0.0, 0.0]))


def called(name: str) -> Mistype:
    def mistype(trial: Trial) -> Trial:
        kind = load_shelf()[name].kind
        return replace(trial, application=replace(trial.application, layer=name, kind=kind))

    return mistype


def mistyped(row: int, mistype: Mistype) -> list[Trial]:
    trials = demo_trials()
    trials[row] = mistype(trials[row])
    return trials


@pytest.mark.parametrize(
    ("row", "mistype", "words"),
    [
        (ROW, swapped, "before and after look swapped"),
        in_ci(ROW, stronger(20.0), "strength 10 looks like a slip for"),
        in_ci(45, stronger(0.1), "looks like a slip for"),
        in_ci(ROW, hues_swapped_before, "a* and b* of the reading before look swapped"),
        in_ci(ROW, hues_swapped_after, "a* and b* of the reading after look swapped"),
        in_ci(ROW, lightness_slipped, "L* after of 65.98 looks like a slip for 85.98"),
        (40, called("burnt umber wash"), "it acted like raw sienna wash"),
    ],
)
def test_a_mistyped_row_is_named_with_its_slip(
    row: int, mistype: Mistype, words: str, memory: Memory
) -> None:
    trials = mistyped(row, mistype)
    outliers = find_outliers(fit_trials(trials, load_shelf(), memory=memory), trials)
    assert outliers[0].index == row
    assert len(outliers) <= 2
    laid = trials[row]
    assert outliers[0].sentence.startswith(
        f"Row {row + 1}: {laid.application.layer} on {laid.piece}: "
    )
    assert words in outliers[0].sentence


def test_mending_restores_what_was_meant(memory: Memory) -> None:
    meant = demo_trials()[ROW]
    trials = mistyped(ROW, swapped)
    mended = find_outliers(fit_trials(trials, load_shelf(), memory=memory), trials)[0].mended
    assert mended is not None
    assert mended.after == pytest.approx(meant.after)
    assert mended.application.before == pytest.approx(meant.application.before)


def test_a_clean_logbook_raises_at_most_one_outlier(demo_model: LayerModel) -> None:
    assert len(find_outliers(demo_model, demo_trials())) <= 1


@pytest.mark.parametrize("row", [0, *(in_ci(n) for n in range(6, 60, 6))])
def test_a_strength_far_beyond_the_shelf_is_pointed_out_whatever_the_layer_does(
    row: int, memory: Memory
) -> None:
    """A seal hardly moves the colour at any strength: only the shelf tells that 10 is no mix."""
    trials = mistyped(row, stronger(10.0 / demo_trials()[row].application.strength))
    outliers = find_outliers(fit_trials(trials, load_shelf(), memory=memory), trials)
    assert row in [outlier.index for outlier in outliers]
    assert len(outliers) <= 2


def test_an_empty_logbook_raises_none() -> None:
    assert find_outliers(fit_trials([], load_shelf()), []) == []


@pytest.mark.proof
def test_false_alarms_on_honest_trials_are_few() -> None:
    """At most 2 in 100, in a workshop whose layers are no ideal films."""
    count = 0
    for seed in range(4):
        trials = make_trials(60, seed)
        count += len(find_outliers(fit_trials(trials, load_shelf()), trials))
    assert count <= 0.02 * 4 * 60


@pytest.mark.proof
def test_mistyped_rows_hardly_move_what_is_predicted(demo_model: LayerModel) -> None:
    clean = demo_trials()
    bad = list(clean)
    for row, mistype in ((ROW, swapped), (20, hues_swapped_after), (40, lightness_slipped)):
        bad[row] = mistype(clean[row])
    X = [t.application for t in clean]
    moved = delta_e_2000(fit_trials(bad, load_shelf()).predict(X), demo_model.predict(X))
    assert moved.mean() < 0.3
    assert np.quantile(moved, 0.95) < 1.5
