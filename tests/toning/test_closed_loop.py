"""The loop of plan, layer and reading on the simulator: small samples of what loop_table.py prints.

Held against the simulator's own truth, which neither the model nor the plan ever sees.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.toning.closed_loop import (
    MOST_LAYERS,
    TOLERANCE,
    NearestTrial,
    make_case,
    nearest_in_truth,
)
from tests.toning.loop_table import ALL_LAYERS, EDGE, Row, judge_case, run_case, share_within
from tests.toning.simulator import lab_of, true_after
from tonematch.measure.colour.difference import delta_e_2000

CASES = range(8)
JUDGED = range(16)


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    return [run_case(seed) for seed in CASES]


@pytest.mark.proof
def test_most_reachable_gaps_are_closed(rows: list[Row]) -> None:
    assert sum(row.nearest <= TOLERANCE for row in rows) >= 6
    # 80 % over 200 cases is the aim; eight cases scatter about it by 14 %. It is 5 of these 8 since
    # plans may go on to six layers, of which this loop lays four.
    assert share_within(rows) >= 0.5


@pytest.mark.proof
def test_gold_is_seldom_toned_too_dark(rows: list[Row]) -> None:
    assert np.median([row.overshoot for row in rows]) < 1.0


@pytest.mark.proof
def test_plans_do_better_than_the_nearest_trial(rows: list[Row]) -> None:
    nearest = [run_case(seed, learn=NearestTrial) for seed in CASES]
    assert share_within(rows) > share_within(nearest)
    assert np.mean([row.far for row in rows]) < np.mean([row.far for row in nearest])


@pytest.mark.proof
def test_never_more_than_four_layers(rows: list[Row]) -> None:
    assert all(row.layers <= MOST_LAYERS for row in rows)


@pytest.mark.proof
def test_targets_out_of_reach_are_called_so() -> None:
    # Few targets are within reach of three layers, nearly all of ten.
    judged = [judge_case(seed, layers) for layers in (3, ALL_LAYERS) for seed in JUDGED]
    out = [said for near, said in judged if near > TOLERANCE + EDGE]
    reach = [said for near, said in judged if near < TOLERANCE - EDGE]
    assert min(len(out), len(reach)) >= 4
    assert np.mean(out) >= 0.9
    assert np.mean(reach) <= 0.1


@pytest.mark.proof
def test_truth_finds_a_recipe_that_made_the_target() -> None:
    case = make_case(3)
    toned, on = case.leaf, case.gilding
    for name, strength in (("red glaze", 0.25), ("grey dust", 0.5), ("brown wax", 0.75)):
        toned = true_after(toned, name, strength, technique=on.technique, finish=on.finish)
    known = replace(case, target=lab_of(toned))
    assert delta_e_2000(lab_of(case.leaf), known.target) > 5.0
    assert nearest_in_truth(known, near_enough=0.0) == pytest.approx(0.0, abs=1e-6)
