"""How well layers are learned: on a simulated workshop, on measured overprints, on the demo.

A few fixed seeds of what ``python -m tests.toning.learning_table`` prints in full.
"""

import numpy as np
import pytest

from tests.cases import in_ci
from tests.toning.foretold_table import foretell
from tests.toning.learning import (
    NO_OVERPRINTS,
    OVERPRINTS,
    check_part,
    demo_trials,
    learn_simulated,
    learn_table,
    overprints,
    ratio_to_best,
    together,
)
from tests.toning.simulator import (
    lab_of,
    make_trials,
    make_with_truth,
    new_surface,
    random_old_surface,
    true_after,
    workshop,
)
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import KINDS
from tonematch.toning.validation.held_out import MODEL

needs_overprints = pytest.mark.skipif(not OVERPRINTS.exists(), reason=NO_OVERPRINTS)


def test_workshop_has_ten_layers_over_the_kinds_and_none_is_on_the_shelf() -> None:
    assert len(workshop()) == 10
    assert {layer.kind for layer in workshop().values()} == set(KINDS) - {"lift"}
    assert {t.application.layer for t in make_trials(100, 0)} == set(workshop())


def test_same_seed_same_trials() -> None:
    for one, other in zip(make_trials(12, 3), make_trials(12, 3), strict=True):
        np.testing.assert_array_equal(one.after, other.after)
    assert not np.allclose(make_trials(1, 3)[0].after, make_trials(1, 4)[0].after)


def test_trials_scatter_about_the_truth_by_hand_and_noise() -> None:
    made = make_with_truth(300, 5)
    off = np.array([m.trial.after - m.true_after for m in made])
    # The median stays; noise alone would be 0.4 for each coordinate, the hand adds to it.
    assert np.abs(np.median(off, axis=0)).max() < 0.15
    assert 0.4 < off.std(axis=0).mean() < 2.0


def test_old_surfaces_are_darker_than_new_ones() -> None:
    new = lab_of(new_surface(np.random.default_rng(0)))
    old = np.array([lab_of(random_old_surface(seed)) for seed in range(20)])
    assert old[:, 0].max() < new[0]
    assert delta_e_2000(old, new).min() > 3.0
    laid = true_after(new_surface(np.random.default_rng(0)), "warm glaze", 1.0)
    assert lab_of(laid)[0] < new[0] - 5.0


# Goals in CIEDE2000 to the truth: this project's own, set before the model was written. They are
# for the mean of many seeds, which the command prints; two seeds may lie 15 % above it.
@pytest.mark.parametrize(
    ("n", "goal"),
    [
        (20, 3.5),
        *(in_ci(*more) for more in ((50, 1.7), (100, 1.3), (300, 1.15))),
    ],
)
def test_simulated_layers_are_learned(n: int, goal: float) -> None:
    learned = together(learn_simulated(n, seed) for seed in (0, 1))
    assert learned.errors[MODEL] <= 1.15 * goal
    assert ratio_to_best(learned.errors) < 0.9
    half, ninety = np.mean(learned.inside, axis=0)
    # Wider than the goals of 45 to 55 and 86 to 94 %: two workshops only.
    assert 0.38 <= half <= 0.65
    assert 0.79 <= ninety <= 0.97


@pytest.mark.proof
def test_second_coats_and_seals_over_layers_are_foretold_where_doses_saturate() -> None:
    told = [foretell(60, seed, first=False) for seed in range(200, 206)]
    far = np.concatenate([each.far[0] for each in told])
    places = np.concatenate([each.places for each in told])
    # Goal for seals: half of the 2.2 that they were off by before films had a surface of their own.
    assert far[places == "seal over layers"].mean() <= 1.15 * 1.1
    # 2.5 while a second coat counted as much as the first.
    assert far[np.concatenate([each.twice for each in told])].mean() <= 1.9


@pytest.mark.proof
@needs_overprints
@pytest.mark.parametrize(("n", "goal"), [(24, 4.0), (96, 1.3)])
def test_measured_overprints_are_learned(n: int, goal: float) -> None:
    learned = together(learn_table(overprints(), n, seed) for seed in (0, 1))
    assert learned.errors[MODEL] <= goal
    assert ratio_to_best(learned.errors) <= 1.1


@pytest.mark.proof
@needs_overprints
@pytest.mark.parametrize(("n", "most"), [(12, 0.8), (24, 0.8), (48, 1.1)])
def test_no_baseline_does_clearly_better_on_overprints(n: int, most: float) -> None:
    check = check_part(overprints(), n, 0)
    assert ratio_to_best(check.means()) <= most


@pytest.mark.proof
@pytest.mark.parametrize(("n", "most"), [(12, 0.9), (24, 0.9)])
def test_no_baseline_does_clearly_better_on_the_demonstration(n: int, most: float) -> None:
    check = check_part(demo_trials(), n, 0)
    assert ratio_to_best(check.means()) <= most
