"""The demonstration's trials: readable, invented, in an order that the trade allows."""

import csv
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.demonstration import make_trials, render_demo
from tests.demonstration.spectra import delta_e_2000, lab_d50
from tonematch.logbook.trial_csv import read_trials
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Surface, Trial
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import load_shelf

TRIALS = swatch_path("demo", "trials.csv")


@pytest.fixture(scope="module")
def trials() -> list[Trial]:
    return read_trials(TRIALS, load_shelf())


def strips(trials: list[Trial]) -> list[list[Trial]]:
    """Trials by piece and strip, in the order in which they were laid."""
    found: dict[tuple[str, str], list[Trial]] = {}
    for trial in trials:
        found.setdefault((trial.piece, trial.note), []).append(trial)
    return list(found.values())


def test_there_are_enough_of_every_sort(trials: list[Trial]) -> None:
    assert len(trials) == 60
    assert len({trial.piece for trial in trials}) == 8
    assert len({trial.application.layer for trial in trials}) == 12
    assert {trial.application.technique for trial in trials} == {"water", "oil"}
    assert {trial.application.finish for trial in trials} == {"burnished", "matte"}


def test_every_trial_says_that_it_is_invented(trials: list[Trial]) -> None:
    assert all(trial.note.startswith("invented") for trial in trials)
    assert all(trial.piece.endswith("(invented)") for trial in trials)


def test_layers_and_strengths_are_those_of_the_shelf(trials: list[Trial]) -> None:
    shelf = load_shelf()
    for trial in trials:
        laid = trial.application
        assert laid.kind == shelf[laid.layer].kind
        assert laid.strength in shelf[laid.layer].strengths
        assert 1 <= laid.coats <= shelf[laid.layer].most_coats


def test_each_step_starts_where_the_last_one_ended(trials: list[Trial]) -> None:
    gaps = [
        later.application.before - earlier.after
        for strip in strips(trials)
        for earlier, later in pairwise(strip)
    ]
    # Two readings of one surface, each with noise of 0.3.
    assert np.std(gaps) == pytest.approx(0.3 * np.sqrt(2), rel=0.25)


def test_order_follows_the_trade(trials: list[Trial]) -> None:
    # Rivers and Umney, Conservation of Furniture: water-borne steps on water gilding want an
    # isolating coat, and on one another too; nothing holds over wax (common practice, no source);
    # leaf is rubbed before anything is laid on it.
    for strip in strips(trials):
        kinds = [trial.application.kind for trial in strip]
        assert "wax" not in kinds[:-1]
        assert "rub" not in kinds[1:]
        for under, over in pairwise(["bare", *kinds]):
            assert not (over == "wash" and under in ("bare", "rub", "wash"))


def test_no_rule_of_layering_blocks_a_strip(trials: list[Trial]) -> None:
    shelf = load_shelf()
    for strip in strips(trials):
        gilding = strip[0].application
        surface = Surface(technique=gilding.technique, finish=gilding.finish)
        findings = check_layering(surface, [shelf[trial.application.layer] for trial in strip])
        assert [finding for finding in findings if finding.severity == "blocked"] == []


def test_the_shipped_file_is_what_the_script_makes() -> None:
    with Path(TRIALS).open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == list(make_trials.COLUMNS)
    assert rows[1:] == make_trials.make_rows(make_trials.PIECES, make_trials.SEED)


def test_the_first_piece_is_the_one_in_the_first_photograph(trials: list[Trial]) -> None:
    first = make_trials.PIECES[0]
    assert render_demo.NEW.bole == first.bole
    untoned = lab_d50(first.new_gold().reflectance)
    start = trials[0].application.before
    assert delta_e_2000(untoned, start) < 1.0
