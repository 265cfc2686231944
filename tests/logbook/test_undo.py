"""What a face alters or takes out comes back by one action, and says when and at which bench."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.logbook.laying import lay
from tonematch.errors import LogbookError, TrialError
from tonematch.logbook.archive.entries import Entries, all_entries
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.toning.core import Layer, Trial

TEA = Layer("tea", "wash")


@pytest.fixture
def filled(logbook: Logbook, trial: Trial, comparison: Comparison) -> Logbook:
    logbook.add_piece(Piece("frame", "water", laid_before=("tea",)))
    logbook.add_layer(TEA)
    logbook.add_trials([trial, replace(trial, step=3)])
    logbook.add_trial(replace(trial, application=replace(trial.application, layer="tea")))
    lay(logbook, trial.application, comparison)
    return logbook


def held(logbook: Logbook) -> Entries:
    """All but the changes."""
    with logbook.reading() as session:
        return {name: found for name, found in all_entries(session).items() if name != "changes"}


ACTS: dict[str, tuple[Callable[[Logbook], object], str]] = {
    "a trial left out": (lambda b: b.exclude_trial(1), "trial 1 (raw umber wash) left out"),
    "a trial put right": (
        lambda b: b.correct_trial(1, replace(b.trials()[0], after=b.trials()[0].after + 1)),
        "trial 1 (raw umber wash) put right: L*a*b* after",
    ),
    "a layer retired": (lambda b: b.retire_layer("tea"), "tea retired"),
    "a layer renamed": (
        lambda b: b.change_layer("tea", replace(TEA, name="black tea")),
        "trial 3 (black tea) layer renamed from tea to black tea, and 2 more",
    ),
    "a piece described": (
        lambda b: b.change_piece("frame", replace(b.piece("frame"), name="oval", bole="red")),
        "oval described anew",
    ),
    "a piece removed": (lambda b: b.remove_piece("frame"), "frame removed, and 3 more"),
    "a layer called off": (lambda b: b.call_off_layer(1), "layer laid 1 (raw umber wash) called"),
}


@pytest.mark.parametrize("act", ACTS)
def test_an_act_is_undone_whole(filled: Logbook, act: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before, (do, words) = held(filled), ACTS[act]
    monkeypatch.setenv("TONEMATCH_BENCH", "by the window")
    do(filled)
    assert held(filled) != before
    (done,) = filled.acts()
    assert done.words.startswith(words)
    assert done.bench == "by the window"
    assert filled.undo().number == done.number
    assert held(filled) == before
    assert filled.acts() == []


def test_acts_are_undone_one_after_the_other(filled: Logbook) -> None:
    states = []
    for do, _ in [*ACTS.values()][:5]:
        states.append(held(filled))
        do(filled)
    assert len(filled.acts(9)) == 5
    for state in reversed(states):
        filled.undo()
        assert held(filled) == state
    with pytest.raises(LogbookError, match=r"No change in the logbook is left to undo[.]$"):
        filled.undo()


def test_only_what_was_not_altered_since_is_undone(filled: Logbook, trial: Trial) -> None:
    filled.correct_trial(1, replace(trial, after=trial.after + 1.0))
    first = filled.acts()[0].number
    filled.exclude_trial(1)
    filled.correct_trial(1, replace(trial, after=trial.after + 2.0))
    with pytest.raises(LogbookError, match="was altered again since"):
        filled.undo(first)
    filled.undo()
    filled.undo(first)  # that it was left out since is another matter
    (kept,) = [kept for kept in filled.kept_trials() if kept.id == 1]
    assert kept.excluded
    assert kept.trial.after.tolist() == trial.after.tolist()
    with pytest.raises(LogbookError, match=f"No change {first} is left to undo"):
        filled.undo(first)


def test_what_cannot_stand_any_more_stays_undone(filled: Logbook, trial: Trial) -> None:
    soot = replace(trial, application=replace(trial.application, layer="soot", kind="dust"))
    filled.exclude_trial(filled.add_trial(soot))
    filled.add_trial(replace(trial, application=replace(trial.application, layer="soot")))
    with pytest.raises(TrialError, match="a dust here and a wash in other trials"):
        filled.undo()
    filled.change_layer("tea", replace(TEA, name="black tea"))
    filled.add_layer(TEA)
    with pytest.raises(LogbookError, match="something else has its name now"):
        filled.undo()
    filled.change_piece("frame", replace(filled.piece("frame"), zone="edge"))
    filled.add_piece(Piece("frame", zone="flat"))
    with pytest.raises(LogbookError, match="more than one gold"):
        filled.undo()
    assert {piece.zone for piece in filled.pieces("frame")} == {"edge", "flat"}


def test_two_layers_are_never_in_progress(
    filled: Logbook, trial: Trial, comparison: Comparison
) -> None:
    filled.call_off_layer(1)
    lay(filled, trial.application, comparison)
    with pytest.raises(LogbookError, match="Another layer is in progress"):
        filled.undo()


def test_a_removed_piece_is_out_of_sight_and_its_name_is_kept_for_it(
    filled: Logbook, trial: Trial
) -> None:
    filled.remove_piece("frame", "mistyped")
    assert (filled.pieces(), filled.trials()) == ([], [])
    for refused in (
        lambda: filled.piece("frame"),
        lambda: filled.add_piece(Piece("frame")),
        lambda: filled.add_trial(trial),
    ):
        with pytest.raises(LogbookError, match="'frame' was removed"):
            refused()
    filled.undo()
    assert len(filled.trials()) == 3
