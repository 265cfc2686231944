"""What a row should agree with: the step before it, the step after it, the logbook's surfaces."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from tests.toning.learning import demo_trials
from tonematch.toning.core import Trial
from tonematch.toning.validation.neighbours import Neighbours, Surfaces

NOISE = 0.4


def around(index: int, trials: list[Trial]) -> Neighbours:
    return Neighbours.of(index, trials, Surfaces.of(trials), NOISE)


def unlikely(index: int, trials: list[Trial]) -> float:
    here = trials[index]
    return around(index, trials).unlikely(here.application.before, here.after)


def with_swapped_readings(trial: Trial) -> Trial:
    a = trial.application
    return replace(trial, application=replace(a, before=trial.after), after=a.before)


def test_a_row_stands_between_the_steps_before_and_after_it() -> None:
    trials = demo_trials()
    assert around(0, trials).left is None  # the first step of the first piece
    np.testing.assert_array_equal(around(1, trials).left, trials[0].after)
    np.testing.assert_array_equal(around(1, trials).taken_up, trials[2].application.before)
    last = max(i for i, t in enumerate(trials) if t.piece == trials[0].piece)
    assert around(last, trials).taken_up is None
    assert around(last + 1, trials).left is None


@pytest.mark.parametrize("row", [1, 2, 3, 7, 11, 12, 17])
def test_swapped_readings_hang_loose_at_both_ends(row: int) -> None:
    trials = demo_trials()
    slipped = [*trials[:row], with_swapped_readings(trials[row]), *trials[row + 1 :]]
    assert unlikely(row, slipped) > unlikely(row, trials) + 4.0


@given(some.floats(-60.0, 60.0))
def test_another_strip_of_the_piece_costs_no_more_than_an_unlinked_surface(jump: float) -> None:
    """However far the next step begins from what this one left, it may be another strip."""
    trials = demo_trials()
    left, surfaces = trials[0].after, Surfaces.of(trials)
    before = left + np.array([jump, 0.0, 0.0])
    linked = Neighbours(surfaces, NOISE, left, None).unlikely(before, before)
    alone = Neighbours(surfaces, NOISE, None, None).unlikely(before, before)
    assert linked <= alone - 2.0 * np.log(0.1) + 1e-9
