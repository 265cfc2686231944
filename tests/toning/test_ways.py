"""The ways of toning on the second simulator: small samples of what ways_table.py prints."""

import json
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.toning.closed_loop import (
    TOLERANCE,
    Bench,
    Case,
    NearestTrial,
    close_gap,
    lay_by_hand,
    nearest_in_truth,
)
from tests.toning.ways import (
    SIX,
    PerfectKnowledge,
    Ran,
    reachable_case,
    run_case,
    sheet,
    workshop_of,
)
from tests.toning.ways_table import chances, interval, main, run_all
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Coat
from tonematch.toning.layers.taking_back import surface_after
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.strips import choose_stacks

CASES = range(6)
NO_SPREAD = np.zeros((1, 3, 3))


@pytest.fixture(scope="module")
def ran() -> list[Ran]:
    names = ["60 trials", "nearest trial", "perfect knowledge"]
    return [one for seed in CASES for one in run_case(seed, names)]


def share(ran: list[Ran], way: str) -> float:
    return float(np.mean([one.far <= TOLERANCE for one in ran if one.way == way]))


@pytest.mark.proof
def test_what_is_known_perfectly_is_nearly_always_reached(ran: list[Ran]) -> None:
    # Else it is the search, the rules or the hand that keeps the plans from the target.
    assert share(ran, "perfect knowledge") >= 5 / 6


@pytest.mark.proof
def test_the_layer_model_comes_nearer_than_the_nearest_trial(ran: list[Ran]) -> None:
    assert share(ran, "60 trials") > share(ran, "nearest trial")
    assert max(one.layers for one in ran) <= SIX


def over_toned(seed: int) -> Case:
    """New gold on which wax was laid at full strength in two coats, where less was meant."""
    case = reachable_case(seed, trials=0)
    wax = next(layer for layer in case.shelf if layer.kind == "wax")
    before = case.workshop.lab_of(case.leaf)
    toned = lay_by_hand(case, np.random.default_rng(0), case.leaf, Coat(wax, 1.0, 2))
    return replace(case, leaf=toned, gilding=surface_after(case.gilding, wax, 2, before))


@pytest.mark.proof
@pytest.mark.parametrize("seed", [2, 8])
def test_what_was_toned_too_far_is_taken_back(seed: int) -> None:
    case = over_toned(seed)
    far = float(delta_e_2000(case.workshop.lab_of(case.leaf), case.target))
    assert case.workshop.lab_of(case.leaf)[0] < case.target[0]
    ended = close_gap(case, PerfectKnowledge, SIX)
    assert ended.rounds[0].step.kind == "lift"
    assert ended.far < min(far, TOLERANCE + 0.5)


def test_every_case_can_be_reached_and_workshops_differ() -> None:
    case = reachable_case(3, trials=0)
    assert nearest_in_truth(case, TOLERANCE) <= TOLERANCE
    assert len({workshop_of(seed) for seed in range(60)}) == 12
    assert not {workshop_of(seed) for seed in range(60)} & {workshop_of(s) for s in (60, 1000)}


def test_perfect_knowledge_knows_what_a_layer_does_on_what_it_foretold() -> None:
    case = reachable_case(1, trials=0)
    before = case.workshop.lab_of(case.leaf) + 0.3
    model = PerfectKnowledge(Bench(case, (), [(before, case.leaf)]))
    surface = case.leaf
    for layer in (case.shelf[2], case.shelf[0], case.shelf[5]):
        laid = Laid.on(before[None], 0.5, 1, case.gilding)
        foretold, covariance = model.predict_layer(layer, laid, NO_SPREAD)
        surface = case.workshop.true_after(
            surface, layer.name, 0.5, technique=case.gilding.technique, finish=case.gilding.finish
        )
        np.testing.assert_allclose(foretold[0], case.workshop.lab_of(surface))
        assert np.trace(covariance[0]) > 0.0
        before = foretold[0]


def test_plans_on_offcuts_are_read_after_every_layer() -> None:
    case = reachable_case(5)
    made = list(sheet(case, NearestTrial, choose_stacks))
    assert {trial.piece for trial in made} <= {f"offcut {n}" for n in range(3)}
    assert len(made) > 3
    for under, trial in pairwise(made):
        if trial.follows(under):
            np.testing.assert_array_equal(trial.application.before, under.after)
        else:
            assert trial.step == 1


def one(seed: int, far: float, workshop: int = 0) -> Ran:
    said = [(0, 0.3, False), (0, 0.9, True), (1, 0.3, True)]
    return Ran(seed, workshop, "60 trials", far, 0.0, 3, 1.0, said, [(0.5, True), (0.9, True)])


def test_an_interval_knows_that_cases_of_one_workshop_are_alike() -> None:
    apart = [one(n, 1.0 if n < 20 else 3.0, workshop=n // 20) for n in range(40)]
    mixed = [replace(each, workshop=each.seed % 2) for each in apart]
    np.testing.assert_allclose(interval(apart), [0.0, 1.0])
    np.testing.assert_allclose(interval(mixed), [0.5, 0.5])


def test_chances_are_told_by_what_they_were_of() -> None:
    said = chances([one(0, 1.0)])
    assert said["laid blind, every plan, 60 trials"] == [(0.3, False), (0.9, True), (0.3, True)]
    assert said["laid blind, the best plan, 60 trials"] == [(0.3, False), (0.9, True)]
    assert said["read after each layer, the first plan, 60 trials"] == [(0.5, True)]


def test_what_is_kept_is_not_run_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "ways.jsonl"
    lines = [json.dumps(asdict(one(seed, seed / 2, workshop=seed % 3))) for seed in range(8)]
    kept.write_text("\n".join(lines) + "\n", encoding="utf-8")
    ran = run_all(range(8), ["60 trials"], 1, kept)
    assert [each.far for each in ran] == [seed / 2 for seed in range(8)]
    assert kept.read_text(encoding="utf-8").splitlines() == lines
    arguments = ["--first", "0", "--cases", "8", "--only", "60 trials", "--kept", str(kept)]
    monkeypatch.setattr("sys.argv", ["ways_table", *arguments])
    main()
    told = capsys.readouterr().out
    assert "60 trials" in told
    assert "62%" in told  # five of eight lie within 2.0
    # Wilson 1927: where all of n came the interval starts at n / (n + z^2).
    assert "100%     68% to 100%" in told
