"""A piece of several golds: each is compared, planned, toned and read back by itself."""

import io
from collections.abc import Mapping
from dataclasses import replace

import pytest

from tests.logbook.laying import FORETOLD
from tonematch.errors import LogbookError, TrialError
from tonematch.logbook.core import Piece
from tonematch.logbook.layers_on_repair import surface_of
from tonematch.logbook.store import Logbook
from tonematch.logbook.trial_csv import read_trials, trials_table
from tonematch.measure.core import Comparison
from tonematch.toning.core import Layer, Proposal, Trial

EDGE = Piece("frame", "water", "burnished", hangs_in="hall", tolerance=1.5, zone="burnished edge")
FLAT = replace(EDGE, technique="oil", finish="matte", tolerance=2.5, zone="matte flat")


@pytest.fixture
def two_golds(logbook: Logbook) -> Logbook:
    """A frame with a burnished edge and a matte flat."""
    logbook.add_piece(EDGE)
    logbook.add_piece(FLAT)
    return logbook


def lay(logbook: Logbook, zone: str, trial: Trial, before: Comparison) -> int:
    number = logbook.keep_comparison("frame", before, zone=zone)
    return logbook.begin_layer(number, trial.application, FORETOLD, 1.0)


def test_golds_toned_in_turn_keep_their_own_layers_and_steps(
    two_golds: Logbook, trial: Trial, comparison: Comparison, small_shelf: Mapping[str, Layer]
) -> None:
    dust = replace(trial, application=replace(trial.application, layer="rottenstone", kind="dust"))
    for _ in range(2):
        edge = lay(two_golds, "burnished edge", trial, comparison)
        flat = lay(two_golds, "matte flat", dust, comparison)
        waiting = two_golds.layer_in_progress("frame", "matte flat")
        assert waiting is not None
        assert (waiting.zone, waiting.application.layer) == ("matte flat", "rottenstone")
        two_golds.log_layer(edge, comparison, [])
        assert two_golds.layer_in_progress("frame", "burnished edge") is None
        two_golds.log_layer(flat, comparison, [])
    assert [(t.zone, t.step) for t in two_golds.trials("frame")] == [
        ("burnished edge", 1), ("matte flat", 1), ("burnished edge", 2), ("matte flat", 2),
    ]  # fmt: skip
    edge_1, flat_1, edge_2, flat_2 = two_golds.trials()
    assert edge_2.follows(edge_1)
    assert not edge_2.follows(flat_1)
    assert not flat_2.follows(edge_1)
    for zone, layer in (("burnished edge", "raw umber wash"), ("matte flat", "rottenstone")):
        on_it = two_golds.trials("frame", zone=zone)
        laid = surface_of(two_golds.piece("frame", zone), on_it, small_shelf).beneath
        assert {one.name for one in laid} == {layer}
        assert len(two_golds.history("frame", zone).comparisons) == 4
        assert len(two_golds.history("frame", zone).trials) == 2


def test_plans_and_photographs_are_of_their_zone(two_golds: Logbook, proposal: Proposal) -> None:
    two_golds.keep_proposal("frame", proposal, zone="matte flat")
    two_golds.keep_photo(b"both golds", "both.jpg", "frame", "matte flat")
    edge, flat = two_golds.histories("frame")
    assert (edge.piece, edge.proposals, edge.photographs) == (EDGE, (), ())
    assert (flat.piece, len(flat.proposals), len(flat.photographs)) == (FLAT, 1, 1)


def test_a_zone_that_is_not_there_is_answered_with_the_nearest(logbook: Logbook) -> None:
    logbook.add_piece(replace(EDGE, zone=""))
    with pytest.raises(LogbookError, match="frame has no zone 'edge', for it is one gold"):
        logbook.piece("frame", "edge")
    with pytest.raises(LogbookError, match="name the one that has none first"):
        logbook.add_piece(FLAT)
    logbook.change_piece("frame", EDGE)
    assert logbook.piece("frame") == EDGE  # one gold is not asked for
    logbook.add_piece(FLAT)
    with pytest.raises(LogbookError, match="'matte flats' is on frame: the nearest names are 'mat"):
        logbook.last_comparison("frame", "matte flats")
    with pytest.raises(LogbookError, match=r"more than one gold: say which zone .*'matte flat'"):
        logbook.last_comparison("frame")
    with pytest.raises(LogbookError, match="has a zone 'matte flat' already"):
        logbook.add_piece(FLAT)
    with pytest.raises(LogbookError, match="has a zone 'matte flat' already"):
        logbook.change_piece("frame", FLAT, zone="burnished edge")
    with pytest.raises(LogbookError, match="each needs a name"):
        logbook.change_piece("frame", replace(FLAT, zone=""), zone="matte flat")
    for zone in (" flat", "fl\nat", "f" * 500):
        with pytest.raises(LogbookError):
            logbook.add_piece(replace(FLAT, zone=zone))
    assert logbook.pieces("frame") == logbook.pieces() == [EDGE, FLAT]


def test_what_is_said_of_the_whole_piece_holds_for_every_zone(two_golds: Logbook) -> None:
    moved = replace(
        FLAT, name="hall frame", hangs_in="stairs", humidity=60.0, glass="old mirror", bole="red"
    )
    two_golds.change_piece("frame", moved, zone="matte flat")
    edge = replace(EDGE, name="hall frame", hangs_in="stairs", humidity=60.0, glass="old mirror")
    assert two_golds.pieces() == [edge, moved]
    two_golds.add_piece(Piece("hall frame", hangs_in="attic", zone="old repair"))
    told = [(p.hangs_in, p.humidity, p.glass) for p in two_golds.pieces()]
    assert told == [("attic", 60.0, "old mirror")] * 3
    assert [len(each.changes) for each in two_golds.histories("hall frame")] == [2, 2, 0]


def test_a_table_carries_the_zone_and_an_older_one_is_known_again(
    logbook: Logbook, trial: Trial, small_shelf: Mapping[str, Layer]
) -> None:
    def table(*trials: Trial) -> io.StringIO:
        return io.StringIO(trials_table(trials), newline="")

    older, edge = table(trial), replace(trial, zone="burnished edge")
    flat = replace(edge, zone="matte flat", step=1, note="")
    assert "zone" not in older.getvalue()
    read = read_trials(table(trial, edge, flat), small_shelf)
    assert [one.zone for one in read] == ["", "burnished edge", "matte flat"]
    assert logbook.add_trials([edge, flat]) == 2
    assert [piece.zone for piece in logbook.pieces("frame")] == ["burnished edge", "matte flat"]
    # What was written before its gold had a name is there; what says no zone now cannot be placed.
    assert logbook.add_trials(read_trials(older, small_shelf)) == 0
    with pytest.raises(LogbookError, match="frame has more than one gold: say which zone"):
        logbook.add_trials([replace(trial, note="another")])
    with pytest.raises(TrialError, match="zone: it is a part of no piece"):
        logbook.add_trial(replace(edge, piece=""))
    assert len(logbook.trials()) == 2


def test_a_correction_leaves_a_trial_in_its_zone(two_golds: Logbook, trial: Trial) -> None:
    flat = replace(trial, zone="matte flat")
    number = two_golds.add_trial(flat)
    two_golds.correct_trial(number, replace(flat, after=trial.after + 1.0))
    assert two_golds.corrected_trials()[number].where == "frame, matte flat"
    two_golds.put_back_trial(number)
    assert [one.zone for one in two_golds.trials("frame", zone="matte flat")] == ["matte flat"]
