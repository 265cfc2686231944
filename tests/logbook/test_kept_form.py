"""A logbook as it was once written, cell by cell, is read as what it was written from.

`logbook_0009.sql` is the text of a logbook that an earlier tonematch wrote at the ninth step of
the tables, with all that a logbook can hold. Every value in it is invented. It is never written
anew: what can no longer be read from it is lost to every logbook of that time. `logbook_0010.sql`
and those after it are what was written at those steps, from the same.
"""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from operator import itemgetter
from pathlib import Path

import numpy as np
import pytest

from tests.logbook.conftest import in_a_file
from tests.logbook.laying import FORETOLD, lay
from tests.logbook.test_store import FRAME, assert_same
from tonematch.logbook.core import PieceHistory, RecipeStep
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.chart import Chart
from tonematch.measure.core import (
    AS_DECODED,
    Area,
    Calibration,
    CameraProfile,
    Comparison,
    EvenLight,
    ToneCurve,
)
from tonematch.toning.core import Coat, Layer, Prediction, Proposal, Strip, Surface, Trial
from tonematch.toning.planning.ground import Ground, Lying

STEPS = ("0009", "0010", "0015", "0020", "0022")
TEXTS = [Path(__file__).with_name(f"logbook_{step}.sql") for step in STEPS]

CORNERS = ((1.0, 2.0), (9.5, 2.0), (9.5, 8.0))
LEVELS = np.array([[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]])
# At the ninth step a curve was a table alone, and light was balanced in the file's own space.
TONE = ToneCurve(LEVELS, LEVELS**1.5, np.zeros(0), AS_DECODED.anchor, "two greys")
PROFILE = CameraProfile(
    "a camera", "north window", "2026-03-31", "sRGB", np.eye(3), 1, np.eye(3) * 0.9, TONE,
    np.zeros((0, 0)), np.array([1.1, 1.0, 0.9]), 24, 1.2, 2.5, 1.0,
)  # fmt: skip
EVEN = EvenLight(np.array([5.0, 5.0]), 64.0, np.full((2, 3), 0.01), None, (64, 48), "cards")
SHEET = replace(EVEN, grid=np.full((1, 2, 3), 0.75), words="sheet")
CHART = Chart(
    {"white": Area("white", CORNERS), "black": Area("black", CORNERS[::-1])},
    {"white": np.array([0.9, 0.95, 0.8]), "black": np.array([0.03, 0.03, 0.02])},
)
AIDS = Aids(
    ((Area("paper", CORNERS), 0.7),), "linear", CHART, PROFILE, None,
    (Area("again", CORNERS, "card"),),
)  # fmt: skip
SEAL = Layer("my seal", "seal", reversible="alcohol", cautions=("Mind the fumes.",))
TEA = Layer(
    "tea", "wash", binder="gum", absorption=(0.1, 0.2, 0.3), scattering=(0.0, 0.0, 0.1),
    strengths=(0.5, 1.0), drying_hours=(0.5, 2.0), source="starting guess",
)  # fmt: skip
RECIPE = (RecipeStep("raw umber wash", "wash", 0.5, 2), RecipeStep("tea", "wash", 1.0))
STRIPS = (Strip((Coat(TEA, 0.5, 2),), (SEAL,)),)
GROUND = Ground(
    Surface("water", "burnished", historic=True, humidity=55.0, boles=("red bole",)),
    (Lying(SEAL), Lying(TEA, 0.5, 2)), "red", "23 ct",
)  # fmt: skip
GILDED = replace(FRAME, gilded_at="2026-01-02T10:00:00+00:00", historic=True, humidity=55.0)


def read_with_all(comparison: Comparison, calibration: Calibration) -> Comparison:
    """A comparison whose readings carry all that a reading can."""
    measured = frozenset({"tone", "light"})
    whole = replace(calibration, tone=TONE, even=EVEN, profile=PROFILE, measured=measured)
    return replace(
        comparison,
        original=replace(comparison.original, calibration=whole, lustre=1.5),
        repair=replace(
            comparison.repair, calibration=replace(calibration, even=SHEET), photo_sha256="1" * 64
        ),
    )


def corrected(trial: Trial) -> Trial:
    """The trial with a slip put right."""
    return replace(trial, application=replace(trial.application, strength=0.25))


def fill(
    logbook: Logbook,
    trial: Trial,
    comparison: Comparison,
    calibration: Calibration,
    proposal: Proposal,
) -> None:
    """Write all that a logbook can hold, one of each."""
    compared = read_with_all(comparison, calibration)
    foretold = Prediction(np.array([61.0, 6.5, 35.0]), np.eye(3), freedom=5.0)
    logbook.add_piece(replace(GILDED, name="old frame"))
    logbook.change_piece("old frame", GILDED, "named anew")
    logbook.add_layer(SEAL)
    logbook.add_layer(TEA)
    logbook.retire_layer("tea", "dried out")
    number = logbook.keep_comparison("frame", compared, {"0" * 64: AIDS, "1" * 64: Aids()})
    logbook.add_findings(number, ["The repair is too even."])
    logbook.keep_proposal("frame", proposal, number)
    logbook.keep_strips("frame", STRIPS, GROUND)
    kept = logbook.add_trial(
        trial, before=compared.original, after=compared.repair, prediction=foretold,
        cautions=["Mind the seal."],
    )  # fmt: skip
    logbook.correct_trial(kept, corrected(trial), cautions=[], reason="read the pot again")
    logbook.exclude_trial(kept, "wrong pot")
    lay(logbook, trial.application, compared)
    logbook.add_recipe("hall tone", RECIPE, "weak")
    logbook.use_recipe("hall tone", "frame")


@pytest.fixture(params=TEXTS, ids=STEPS)
def old(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Logbook]:
    """The logbook of that time, opened today."""
    path = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(request.param.read_text(encoding="utf-8"))
    with open_logbook(path) as opened:
        yield opened


def test_a_logbook_of_that_time_is_read_whole(
    old: Logbook,
    trial: Trial,
    comparison: Comparison,
    calibration: Calibration,
    proposal: Proposal,
) -> None:
    compared = read_with_all(comparison, calibration)
    history: PieceHistory = old.history("frame")
    assert history.piece == GILDED
    first, _ = history.comparisons
    assert_same(first.comparison, compared)
    assert first.findings == ("The repair is too even.",)
    assert first.original.aids is not None
    assert_same(replace(first.original.aids.aids, chart=None), replace(AIDS, chart=None))
    chart = first.original.aids.aids.chart
    assert chart is not None
    assert chart.patches == CHART.patches
    assert {name: list(xyz) for name, xyz in chart.xyz.items()} == {
        name: list(xyz) for name, xyz in CHART.xyz.items()
    }
    assert_same(history.proposals[0].proposal, proposal)
    (sheet,) = old.strip_sheets("frame")
    assert_same(sheet.strips, STRIPS)
    assert sheet.ground == GROUND
    assert old.own_layers(retired=True) == [SEAL, TEA]
    assert old.own_layers() == [SEAL]
    laid = old.layer_in_progress("frame")
    assert laid is not None
    assert_same(laid.prediction, FORETOLD)
    (kept,) = history.trials
    assert_same(kept.trial, as_read(corrected(trial), compared))
    assert (kept.prediction, kept.cautions, kept.excluded) == (None, (), True)
    assert len(history.changes) == 3


def as_read(trial: Trial, compared: Comparison) -> Trial:
    """It has the lustre of its reading, and what its readings are unsure of."""
    before, after = compared.original.own_covariance, compared.repair.own_covariance
    return replace(trial, before_lustre=1.5, before_covariance=before, after_covariance=after)


def test_what_was_corrected_then_is_put_back_now(
    old: Logbook, trial: Trial, comparison: Comparison
) -> None:
    old.put_back_trial(1)
    (kept,) = old.kept_trials()
    assert_same(kept.trial, as_read(trial, comparison))
    assert kept.cautions == ("Mind the seal.",)
    assert kept.prediction is not None
    assert (kept.prediction.lab.tolist(), kept.prediction.freedom) == ([61.0, 6.5, 35.0], 5.0)


@in_a_file
@pytest.mark.parametrize("old", TEXTS[-1:], indirect=True)
def test_the_same_is_written_in_the_same_form(
    old: Logbook,
    logbook: Logbook,
    trial: Trial,
    comparison: Comparison,
    calibration: Calibration,
    proposal: Proposal,
) -> None:
    """So that the tonematch of that time, which opens these tables, reads what is written now."""
    fill(logbook, trial, comparison, calibration, proposal)
    # Words that are only shown to people are others now.
    was, now = ("changes", "words", "excluded"), ("changes", "words", "left out")
    assert [was if cell == now else cell for cell in cells(logbook)] == cells(old)


def cells(logbook: Logbook) -> list[object]:
    """Every cell of every table, JSON read, without moments of writing and sums over those."""
    found: list[object] = []
    with closing(sqlite3.connect(logbook.path)) as connection:
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        for (table,) in sorted(tables):
            rows = connection.execute(f"SELECT * FROM {table}")
            names = [name for name, *_ in rows.description]
            of_now = ("sum", *(name for name in names if name.endswith("_at")))
            for row in rows:
                named = sorted(zip(names, map(_read, row), strict=True), key=itemgetter(0))
                found += [(table, *cell) for cell in named if cell[0] not in of_now]
    return found


def _read(cell: object) -> object:
    return json.loads(cell) if isinstance(cell, str) and cell[:1] in ("[", "{") else cell
