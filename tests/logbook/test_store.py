"""What goes into the logbook comes out the same, and nothing is lost."""

import hashlib
import math
import multiprocessing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import select, text, update

from tests.logbook.conftest import in_a_file
from tonematch.errors import LogbookError, TonematchError, TrialError
from tonematch.logbook.core import Piece
from tonematch.logbook.database.cells import CONVERTER
from tonematch.logbook.database.tables import ChangeRow, ReadingRow
from tonematch.logbook.photo_folder import Where
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.trial_csv import read_trials, trials_table
from tonematch.measure.core import (
    AS_DECODED,
    Calibration,
    CameraProfile,
    Comparison,
    EvenLight,
    ToneCurve,
)
from tonematch.toning.core import Coat, Layer, Prediction, Proposal, Strip, Surface, Trial
from tonematch.toning.planning.ground import Ground, Lying

FRAME = Piece(
    name="frame",
    technique="water",
    finish="burnished",
    bole="red",
    leaf="23.75 ct",
    hangs_in="hall, north light",
    wish="aged in",
    tolerance=1.5,
    viewing_distance_m=1.8,
    notes="‘gesso’ lost at the corner",
    invented=True,
    laid_before=("thin shellac", "raw umber wash"),
)


def assert_same(one: object, other: object) -> None:
    """Equal throughout, arrays to the last digit."""
    if isinstance(one, np.ndarray):
        assert isinstance(other, np.ndarray)
        assert np.array_equal(one, other)
    elif is_dataclass(one):
        assert type(one) is type(other)
        for field in fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name))
    elif isinstance(one, tuple):
        assert isinstance(other, tuple)
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            assert_same(a, b)
    else:
        assert one == other


def test_piece_comes_back(logbook: Logbook) -> None:
    logbook.add_piece(FRAME)
    logbook.add_piece(Piece("overmantel"))
    assert logbook.pieces() == [FRAME, Piece("overmantel")]
    assert logbook.piece("frame") == FRAME


def test_the_rules_see_the_gilding_of_a_piece() -> None:
    surface = Piece("frame", "oil", "matte", bole="salmon, black above").surface()
    assert (surface.technique, surface.finish) == ("oil", "matte")
    assert surface.boles == ("black bole", "pink bole")


def test_unknown_piece_is_answered_with_the_nearest_name(logbook: Logbook) -> None:
    with pytest.raises(LogbookError, match="none yet"):
        logbook.piece("frame")
    logbook.add_piece(FRAME)
    logbook.add_piece(Piece("overmantel"))
    with pytest.raises(LogbookError, match="nearest name is 'overmantel'"):
        logbook.last_comparison("over mantle")


def test_name_of_a_piece_is_taken_once(logbook: Logbook) -> None:
    logbook.add_piece(FRAME)
    with pytest.raises(LogbookError, match="already"):
        logbook.add_piece(Piece("frame"))
    assert logbook.pieces() == [FRAME]


@pytest.mark.parametrize(
    "piece",
    [
        Piece(""),
        Piece(" frame"),
        Piece("fra\nme"),
        Piece("frame", tolerance=0.0),
        Piece("frame", tolerance=math.nan),
        Piece("frame", viewing_distance_m=0.0),
        Piece("frame", viewing_distance_m=math.inf),
        Piece("frame", laid_before=("",)),
        Piece("frame", laid_before=("wa\nsh",)),
        replace(FRAME, technique="fire"),  # type: ignore[arg-type]
        replace(FRAME, finish="shiny"),  # type: ignore[arg-type]
    ],
)
def test_piece_that_cannot_be_used_is_refused(logbook: Logbook, piece: Piece) -> None:
    with pytest.raises(TonematchError):
        logbook.add_piece(piece)
    assert logbook.pieces() == []


def test_changing_a_piece_leaves_a_trace(logbook: Logbook) -> None:
    logbook.add_piece(FRAME)
    renamed = replace(FRAME, name="hall frame", tolerance=2.5)
    logbook.change_piece("frame", renamed, "agreed with the owner")
    history = logbook.history("hall frame")
    assert history.piece == renamed
    (change,) = history.changes
    assert change.reason == "agreed with the owner"
    with logbook.reading() as session:
        assert session.scalars(select(ChangeRow.before)).one()["tolerance"] == 1.5


def test_photograph_is_kept_byte_for_byte(logbook: Logbook) -> None:
    logbook.add_piece(FRAME)
    logbook.add_piece(Piece("overmantel"))
    data = bytes(range(256)) * 50
    sha256 = logbook.keep_photo(data, r"C:\photos\Frame 1.JPG", "frame")
    assert sha256 == hashlib.sha256(data).hexdigest()
    assert logbook.photo_bytes(sha256) == data
    (photo,) = logbook.history("frame").photographs
    assert (photo.file_name, photo.size) == ("Frame 1.JPG", len(data))
    assert photo.path.read_bytes() == data
    # The same once more, and for another piece: one file.
    logbook.keep_photo(data, "copy.jpg", "frame")
    logbook.keep_photo(data, "copy.jpg", "overmantel")
    assert len(logbook.history("frame").photographs) == 1
    assert len(logbook.history("overmantel").photographs) == 1
    assert [p for p in logbook.photographs.rglob("*") if p.is_file()] == [photo.path]


def test_photograph_that_changed_on_the_disk_is_told_and_healed(logbook: Logbook) -> None:
    logbook.add_piece(FRAME)
    sha256 = logbook.keep_photo(b"good", "a.jpg", "frame")
    (photo,) = logbook.history("frame").photographs
    photo.path.write_bytes(b"bad")
    with pytest.raises(LogbookError, match="has changed"):
        logbook.photo_bytes(sha256)
    assert logbook.keep_photo(b"good", "a.jpg", "frame") == sha256
    assert logbook.photo_bytes(sha256) == b"good"
    assert [p.read_bytes() for p in photo.path.parent.glob("*.damaged-*")] == [b"bad"]
    photo.path.unlink()
    with pytest.raises(LogbookError, match="put it back"):
        logbook.photo_bytes(sha256)


def test_photographs_that_cannot_be_kept(logbook: Logbook) -> None:
    logbook.add_piece(FRAME)
    with pytest.raises(LogbookError, match="empty"):
        logbook.keep_photo(b"", "a.jpg", "frame")
    with pytest.raises(LogbookError, match="No photograph"):
        logbook.photo_bytes("f" * 64)
    logbook.photographs.write_bytes(b"a file where the folder should be")
    with pytest.raises(LogbookError, match="cannot be kept"):
        logbook.keep_photo(b"x", "a.jpg", "frame")
    assert logbook.history("frame").photographs == ()


def test_comparison_comes_back(
    logbook: Logbook, comparison: Comparison, calibration: Calibration
) -> None:
    logbook.add_piece(FRAME)
    on_card = replace(calibration, photo_sha256="1" * 64)
    carried = replace(
        comparison,
        original=replace(comparison.original, calibration=on_card),
        repair=replace(comparison.repair, calibration=calibration),
    )
    number = logbook.keep_comparison("frame", carried)
    logbook.keep_comparison("frame", comparison)
    kept, bare = logbook.history("frame").comparisons
    assert kept.id == number
    assert_same(kept.comparison, carried)
    assert_same(kept.repair.calibration, calibration)
    assert_same(bare.comparison, comparison)
    # The card belongs to the photograph that it was marked on.
    assert kept.original.areas == {
        "1" * 64: (calibration.card,),
        "0" * 64: (comparison.original.area,),
    }
    assert kept.repair.areas == {"0" * 64: (calibration.card, comparison.repair.area)}


def test_calibration_comes_back_whole(
    logbook: Logbook, comparison: Comparison, calibration: Calibration
) -> None:
    """Tone curve, uneven light and camera profile with it: a kept picture reads as it did."""
    rng = np.random.default_rng(5)
    levels = np.sort(rng.random((4, 3)), axis=0)
    tone = ToneCurve(levels, levels**1.5, rng.random(5), np.full(3, 0.2), "from two neutrals")
    profile = CameraProfile(
        "a camera", "north window", "2026-03-31", "sRGB", rng.random((3, 3)), 2,
        rng.random((3, 6)), tone, np.eye(5), np.array([1.1, 1.0, 0.9]), 24, 1.2, 2.5, 0.7,
    )  # fmt: skip
    even = EvenLight(
        np.array([10.0, 20.0]),
        640.0,
        rng.random((2, 3)),
        rng.random((2, 3, 3)),
        (640, 480),
        "sheet",
    )
    whole = replace(
        calibration, root_degree=2, balance=rng.random((3, 3)), developed=False, tone=tone,
        even=even, profile=profile, measured=frozenset({"tone", "light"}),
    )  # fmt: skip
    logbook.add_piece(FRAME)
    plain = replace(whole, even=None, tone=AS_DECODED)
    original = replace(comparison.original, calibration=whole)
    repair = replace(comparison.repair, calibration=plain)
    logbook.keep_comparison("frame", replace(comparison, original=original, repair=repair))
    (kept,) = logbook.history("frame").comparisons
    assert_same(kept.original.calibration, whole)
    assert_same(kept.repair.calibration, plain)


def test_calibration_of_an_earlier_version_is_read(
    logbook: Logbook, comparison: Comparison, calibration: Calibration
) -> None:
    logbook.add_piece(FRAME)
    original = replace(comparison.original, calibration=calibration)
    logbook.keep_comparison("frame", replace(comparison, original=original))
    later = ("root_degree", "tone", "even", "measured", "profile")
    entry = CONVERTER.unstructure(calibration)
    earlier = {name: said for name, said in entry.items() if name not in later}
    with logbook.writing() as session:
        told = update(ReadingRow).where(ReadingRow.calibration.is_not(None))
        session.execute(told.values(calibration=earlier))
    (kept,) = logbook.history("frame").comparisons
    assert_same(kept.original.calibration, calibration)


def test_what_earlier_versions_called_settled_is_read(calibration: Calibration) -> None:
    entry = CONVERTER.unstructure(replace(calibration, measured=frozenset({"tone"})))
    entry["settled"] = entry.pop("measured")
    entry["colour_words"] = ""  # a field that is gone
    assert CONVERTER.structure(entry, Calibration).measured == {"tone"}


def test_findings_are_kept_with_their_comparison(logbook: Logbook, comparison: Comparison) -> None:
    logbook.add_piece(FRAME)
    logbook.keep_comparison("frame", comparison)
    number = logbook.keep_comparison("frame", comparison)
    logbook.add_findings(number, ["The repair is too even."])
    logbook.add_findings(number, ["The repair is too even.", "The repair is too shiny."])
    bare, found = logbook.history("frame").comparisons
    assert bare.findings == ()
    assert found.findings == ("The repair is too even.", "The repair is too shiny.")
    with pytest.raises(LogbookError, match="No comparison 99"):
        logbook.add_findings(99, ["x"])


def test_reading_is_tied_to_its_photograph(logbook: Logbook, comparison: Comparison) -> None:
    logbook.add_piece(FRAME)
    sha256 = logbook.keep_photo(b"picture", "a.jpg", "frame")
    of_photo = replace(comparison, original=replace(comparison.original, photo_sha256=sha256))
    logbook.keep_comparison("frame", of_photo)
    with logbook.reading() as session:
        tied = session.scalars(text("SELECT photograph_id FROM readings ORDER BY id")).all()
    assert tied == [1, None]


def test_proposal_comes_back(logbook: Logbook, comparison: Comparison, proposal: Proposal) -> None:
    logbook.add_piece(FRAME)
    comparison_id = logbook.keep_comparison("frame", comparison)
    logbook.keep_proposal("frame", proposal, comparison_id)
    (kept,) = logbook.history("frame").proposals
    assert kept.comparison_id == comparison_id
    assert_same(kept.proposal, proposal)


def test_sheet_of_strips_comes_back(logbook: Logbook, small_shelf: Mapping[str, Layer]) -> None:
    seal, wash = small_shelf["thin shellac"], small_shelf["raw umber wash"]
    weak = replace(wash, absorption=(0.1, 0.2, 0.3))
    strips = (
        Strip((Coat(seal, 1.0), Coat(weak, 0.25), Coat(seal, 0.5, 2))),
        Strip((Coat(weak, 0.5, 2),), (seal,)),
    )
    logbook.add_piece(FRAME)
    logbook.add_piece(Piece("other"))
    laid = (Lying(seal), Lying(wash, 0.5, 2))
    ground = Ground(Surface("water", boles=("red bole",)), laid, "red")
    number = logbook.keep_strips("frame", strips, ground)
    (kept,) = logbook.strip_sheets("frame")
    assert kept.id == number
    assert_same(kept.strips, strips)
    assert kept.ground == ground
    assert logbook.strip_sheets("other") == []


def test_trial_comes_back_with_all_that_is_tied_to_it(
    logbook: Logbook, trial: Trial, comparison: Comparison, calibration: Calibration
) -> None:
    logbook.add_piece(FRAME)
    prediction = Prediction(np.array([61.0, 6.5, 35.0]), np.eye(3), freedom=5.0)
    before = replace(comparison.original, calibration=calibration)
    after = replace(comparison.repair, calibration=calibration)
    number = logbook.add_trial(
        trial,
        before=before,
        after=after,
        prediction=prediction,
        cautions=["No isolating coat."],
    )
    (kept,) = logbook.kept_trials()
    assert (kept.id, kept.cautions, kept.excluded) == (number, ("No isolating coat.",), False)
    read = replace(
        trial, before_covariance=before.own_covariance, after_covariance=after.own_covariance
    )
    assert_same(kept.trial, read)
    assert_same(kept.prediction, prediction)
    assert kept.before is not None
    assert kept.after is not None
    assert_same(kept.before.reading, before)
    assert_same(kept.after.reading, after)
    assert_same(logbook.trials()[0], read)


def test_trials_are_found_by_piece_and_layer(logbook: Logbook, trial: Trial) -> None:
    other = replace(
        trial, piece="", application=replace(trial.application, layer="soot", kind="dust")
    )
    assert logbook.add_trials([trial, other]) == 2
    assert [t.piece for t in logbook.trials(piece="frame")] == ["frame"]
    assert [t.piece for t in logbook.trials(layer="soot")] == [""]
    assert logbook.trials(piece="frame", layer="soot") == []
    with pytest.raises(LogbookError, match="nearest"):
        logbook.trials(piece="fram")


def test_the_same_table_taken_twice_adds_nothing(logbook: Logbook, trial: Trial) -> None:
    repeat = replace(trial, note="once more")
    assert logbook.add_trials([trial, trial, repeat]) == 3
    assert logbook.add_trials([trial, trial, repeat]) == 0
    assert logbook.add_trials([trial, trial, trial]) == 1
    assert len(logbook.trials()) == 4


def test_piece_named_by_a_trial_is_added(logbook: Logbook, trial: Trial) -> None:
    logbook.add_trials([trial, replace(trial, piece="demo", note="Invented: by calculation")])
    frame, demo = logbook.pieces()
    assert (frame.technique, frame.finish, frame.invented) == ("water", "burnished", False)
    assert demo.invented


def test_one_faulty_trial_keeps_all_out(logbook: Logbook, trial: Trial) -> None:
    faulty = replace(trial, after=np.array([math.nan, 0, 0]))
    with pytest.raises(TrialError, match="after_L"):
        logbook.add_trials([trial, faulty])
    with pytest.raises(TrialError, match="strength"):
        logbook.add_trial(replace(trial, application=replace(trial.application, strength=-1.0)))
    assert logbook.trials() == []
    assert logbook.pieces() == []


def test_layer_has_one_kind_among_the_trials_that_are_learned_from(
    logbook: Logbook, trial: Trial
) -> None:
    as_glaze = replace(trial, application=replace(trial.application, kind="glaze"))
    number = logbook.add_trial(trial)
    with pytest.raises(TrialError, match="a glaze here and a wash in other trials"):
        logbook.add_trial(as_glaze)
    logbook.exclude_trial(number)
    logbook.add_trial(as_glaze)
    with pytest.raises(TrialError, match="kind"):
        logbook.add_trials([trial])
    with pytest.raises(TrialError, match="kind"):
        logbook.include_trial(number)
    assert [t.application.kind for t in logbook.trials()] == ["glaze"]


def test_what_is_kept_can_be_written_and_taken_into_another_logbook(
    logbook: Logbook, trial: Trial, tmp_path: Path, small_shelf: Mapping[str, Layer]
) -> None:
    soot = replace(trial, application=replace(trial.application, layer="Soot", kind="dust"))
    logbook.add_trials([trial, soot])
    (tmp_path / "trials.csv").write_bytes(trials_table(logbook.trials()).encode())
    with open_logbook(tmp_path / "other.sqlite") as other:
        other.add_trials(read_trials(tmp_path / "trials.csv", small_shelf))
        assert_same(tuple(other.trials()), tuple(logbook.trials()))


def test_excluded_trial_stays_and_can_be_included_again(logbook: Logbook, trial: Trial) -> None:
    number = logbook.add_trial(trial)
    logbook.exclude_trial(number, "wrong pot")
    logbook.exclude_trial(number)
    assert logbook.trials() == []
    assert [kept.excluded for kept in logbook.kept_trials()] == [True]
    logbook.include_trial(number)
    assert len(logbook.trials()) == 1
    assert [change.words for change in logbook.history("frame").changes] == [
        "left out",
        "learned from again",
    ]
    with pytest.raises(LogbookError, match="No trial 99"):
        logbook.exclude_trial(99)


def test_foreign_keys_hold(logbook: Logbook, proposal: Proposal) -> None:
    logbook.add_piece(FRAME)
    with pytest.raises(LogbookError, match="nothing was written"):
        logbook.keep_proposal("frame", proposal, comparison_id=99)
    with pytest.raises(LogbookError), logbook.writing() as session:
        session.execute(text("INSERT INTO photographs VALUES (99, 'x', 'y', 1, 1, 'now')"))
    assert logbook.history("frame").proposals == ()


def test_value_that_is_no_number_is_refused(logbook: Logbook, comparison: Comparison) -> None:
    logbook.add_piece(FRAME)
    with pytest.raises(LogbookError):
        logbook.keep_comparison("frame", replace(comparison, delta_e=math.nan))
    nowhere = replace(comparison.original, covariance=np.full((3, 3), math.nan))
    with pytest.raises(LogbookError):
        logbook.keep_comparison("frame", replace(comparison, original=nowhere))
    assert logbook.history("frame").comparisons == ()
    with logbook.reading() as session:
        assert session.scalar(text("SELECT count(*) FROM readings")) == 0


def test_fault_in_the_middle_leaves_nothing_half_written(logbook: Logbook) -> None:
    logbook.add_piece(FRAME)

    def write_and_fail() -> None:
        with logbook.writing() as session:
            session.execute(text("UPDATE pieces SET name = 'half'"))
            raise RuntimeError("power cut")

    with pytest.raises(RuntimeError, match="power cut"):
        write_and_fail()
    assert logbook.pieces() == [FRAME]


def _add_many(where: Where, trial_values: Trial, start: int) -> None:
    with open_logbook(where, wait_seconds=30) as opened:
        for number in range(start, start + 10):
            opened.add_trial(replace(trial_values, piece=f"piece {number % 5}", step=number + 1))


@pytest.mark.proof
def test_two_programs_open_and_write_at_once(where: Where, trial: Trial) -> None:
    spawn = multiprocessing.get_context("spawn")
    workers = [spawn.Process(target=_add_many, args=(where, trial, 10 * k)) for k in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    assert [worker.exitcode for worker in workers] == [0, 0]
    with open_logbook(where) as opened:
        assert sorted(t.step for t in opened.trials()) == list(range(1, 21))
        assert len(opened.pieces()) == 5


def test_history_holds_all_of_a_piece_and_nothing_of_another(
    logbook: Logbook, trial: Trial, comparison: Comparison, proposal: Proposal
) -> None:
    for name in ("frame", "other"):
        logbook.add_piece(Piece(name))
        logbook.keep_photo(name.encode(), f"{name}.jpg", name)
        logbook.keep_comparison(name, comparison)
        logbook.keep_proposal(name, proposal)
        logbook.exclude_trial(logbook.add_trial(replace(trial, piece=name)))
    history = logbook.history("frame")
    assert history.piece.name == "frame"
    assert [photo.file_name for photo in history.photographs] == ["frame.jpg"]
    assert [kept.trial.piece for kept in history.trials] == ["frame"]
    assert (len(history.comparisons), len(history.proposals), len(history.changes)) == (1, 1, 1)


def test_everything_is_there_after_reopening(where: Where, trial: Trial) -> None:
    with open_logbook(where) as opened:
        opened.add_piece(FRAME)
        opened.add_trial(trial)
    with open_logbook(where) as opened:
        assert opened.pieces() == [FRAME]
        assert_same(opened.trials()[0], trial)


@in_a_file
def test_disk_full_is_told_and_earlier_rows_are_safe(logbook: Logbook, trial: Trial) -> None:
    """SQLite's own limit of pages stands in for the disk."""
    logbook.add_piece(FRAME)
    many = [replace(trial, note=f"{n} " + "x" * 1000) for n in range(200)]
    with pytest.raises(LogbookError, match="disk is full"), logbook.writing() as session:
        session.execute(text("PRAGMA max_page_count = 1"))
        for number in range(200):
            session.execute(
                text(
                    "INSERT INTO layers (name, kind, entry, made_at) VALUES (:n, 'seal', '{}', '')"
                ),
                {"n": f"{number} " + "x" * 1000},
            )
    assert logbook.pieces() == [FRAME]
    assert logbook.own_layers() == []
    assert logbook.add_trials(many) == 200


def test_another_program_that_writes_is_waited_for_and_then_told(
    where: Where, trial: Trial
) -> None:
    with open_logbook(where, wait_seconds=0.1) as opened, open_logbook(where) as other:
        with other.writing() as session:
            session.execute(select(1))
            with pytest.raises(LogbookError, match="in use by another program"):
                opened.add_trial(trial)
        opened.add_trial(trial)
        assert len(opened.trials()) == 1


def test_a_camera_is_remembered_by_what_was_measured(
    logbook: Logbook, comparison: Comparison, calibration: Calibration
) -> None:
    logbook.add_piece(FRAME)
    told = replace(calibration, camera="invented 'camera' \"1\"", space="sRGB")
    for measured in (frozenset[str](), frozenset({"tone"})):
        original = replace(comparison.original, calibration=replace(told, measured=measured))
        logbook.keep_comparison("frame", replace(comparison, original=original))
    (known,) = logbook.camera_profiles(told.camera, "sRGB").values()
    assert known.camera == told.camera
    assert logbook.camera_profiles("another", "sRGB") == {}
    assert logbook.camera_profiles(told.camera, "another") == {}
