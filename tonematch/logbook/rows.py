"""Between the dataclasses of the rooms above and the rows of the tables."""

import math
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tonematch.logbook.calibration_entry import (
    aids_entry,
    aids_of,
    calibration_entry,
    calibration_of,
)
from tonematch.logbook.cells import decoding, numbers, word_of
from tonematch.logbook.core import (
    Change,
    KeptComparison,
    KeptPhoto,
    KeptReading,
    KeptTrial,
    Piece,
)
from tonematch.logbook.photo_folder import photo_path
from tonematch.logbook.tables import (
    ChangeRow,
    ComparisonRow,
    PhotographRow,
    PieceRow,
    ReadingRow,
    TrialRow,
)
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Area, Comparison, Reading, Role, Verdict
from tonematch.toning.core import Application, Finish, Kind, Prediction, Technique, Trial


@decoding
def piece_of(row: PieceRow) -> Piece:
    """The piece that a row tells of."""
    values = {field.name: getattr(row, field.name) for field in fields(Piece)}
    words = {
        "technique": word_of(row.technique, Technique),
        "finish": word_of(row.finish, Finish),
        "laid_before": tuple(row.laid_before),
    }
    return Piece(**values | words)


@decoding
def photo_of(row: PhotographRow, folder: Path) -> KeptPhoto:
    """The photograph that a row tells of, and where its file lies."""
    path = photo_path(folder, row.sha256, row.file_name)
    return KeptPhoto(row.sha256, row.file_name, row.size, path, row.made_at)


def reading_row(
    reading: Reading, piece_id: int | None, photograph_id: int | None, aids: Aids | None = None
) -> ReadingRow:
    """The row for a reading, with its calibration where it carries one and what helped in that."""
    calibration = reading.calibration
    L, a, b = map(float, reading.lab)
    return ReadingRow(
        piece_id=piece_id,
        photograph_id=photograph_id,
        photo_sha256=reading.photo_sha256,
        name=reading.area.name,
        role=reading.area.role,
        corners=plain_lists(reading.area.corners),
        L=L,
        a=a,
        b=b,
        covariance=plain_lists(reading.covariance),
        own_covariance=plain_lists(reading.own_covariance),
        pixels=reading.pixels,
        left_out=reading.left_out,
        spread_L=float(reading.spread_L),
        spread_C=float(reading.spread_C),
        warnings=list(reading.warnings),
        calibration=None if calibration is None else calibration_entry(calibration),
        aids=None if aids is None else aids_entry(aids),
        lustre=number_or_none(reading.lustre),
    )


@decoding
def reading_of(row: ReadingRow) -> KeptReading:
    """The reading that a row tells of."""
    reading = Reading(
        lab=numbers([row.L, row.a, row.b]),
        covariance=numbers(row.covariance, 3, 3),
        own_covariance=numbers(row.own_covariance, 3, 3),
        pixels=row.pixels,
        left_out=row.left_out,
        spread_L=row.spread_L,
        spread_C=row.spread_C,
        area=Area(row.name, _corners(row.corners), word_of(row.role, Role)),
        photo_sha256=row.photo_sha256,
        warnings=tuple(row.warnings),
        calibration=None if row.calibration is None else calibration_of(row.calibration),
        lustre=row.lustre,
    )
    aids = None if row.aids is None else aids_of(row.aids)
    return KeptReading(row.id, reading, row.made_at, aids)


def comparison_row(
    comparison: Comparison, piece_id: int, original: ReadingRow, repair: ReadingRow
) -> ComparisonRow:
    """The row for a comparison of two readings."""
    low, high = comparison.interval
    return ComparisonRow(
        piece_id=piece_id,
        original=original,
        repair=repair,
        delta_e=float(comparison.delta_e),
        interval_low=float(low),
        interval_high=float(high),
        delta_lightness=float(comparison.delta_L),
        delta_chroma=float(comparison.delta_C),
        delta_hue_angle=float(comparison.delta_h),
        delta_hue=float(comparison.delta_H),
        tolerance=float(comparison.tolerance),
        verdict=comparison.verdict,
        words=comparison.words,
        warnings=list(comparison.warnings),
    )


@decoding
def comparison_of(row: ComparisonRow) -> KeptComparison:
    """The comparison that a row tells of, with its readings."""
    original, repair = reading_of(row.original), reading_of(row.repair)
    comparison = Comparison(
        delta_e=row.delta_e,
        interval=(row.interval_low, row.interval_high),
        delta_L=row.delta_lightness,
        delta_C=row.delta_chroma,
        delta_h=row.delta_hue_angle,
        delta_H=row.delta_hue,
        tolerance=row.tolerance,
        verdict=word_of(row.verdict, Verdict),
        words=row.words,
        original=original.reading,
        repair=repair.reading,
        warnings=tuple(row.warnings),
    )
    findings = tuple(row.findings)
    return KeptComparison(row.id, comparison, original, repair, row.made_at, findings)


def trial_row(trial: Trial) -> TrialRow:
    """The row for a trial, not yet tied to a piece or to readings."""
    application = trial.application
    before, after = plain_list(application.before), plain_list(trial.after)
    return TrialRow(
        date=trial.date,
        technique=application.technique,
        finish=application.finish,
        step=trial.step,
        layer=application.layer,
        kind=application.kind,
        strength=float(application.strength),
        coats=application.coats,
        before_L=before[0],
        before_a=before[1],
        before_b=before[2],
        after_L=after[0],
        after_a=after[1],
        after_b=after[2],
        before_lustre=number_or_none(trial.before_lustre),
        after_lustre=number_or_none(trial.after_lustre),
        note=trial.note,
        cautions=[],
    )


@decoding
def trial_of(row: TrialRow) -> Trial:
    """The trial that a row tells of."""
    application = Application(
        before=numbers([row.before_L, row.before_a, row.before_b]),
        layer=row.layer,
        kind=word_of(row.kind, Kind),
        strength=row.strength,
        coats=row.coats,
        technique=word_of(row.technique, Technique),
        finish=word_of(row.finish, Finish),
    )
    return Trial(
        application=application,
        after=numbers([row.after_L, row.after_a, row.after_b]),
        piece="" if row.piece is None else row.piece.name,
        date=row.date,
        step=row.step,
        note=row.note,
        before_lustre=row.before_lustre,
        after_lustre=row.after_lustre,
    )


@decoding
def kept_trial_of(row: TrialRow) -> KeptTrial:
    """The trial that a row tells of, with all that is tied to it."""
    return KeptTrial(
        id=row.id,
        trial=trial_of(row),
        before=None if row.before is None else reading_of(row.before),
        after=None if row.after is None else reading_of(row.after),
        prediction=None if row.prediction is None else prediction_of(row.prediction),
        cautions=tuple(row.cautions),
        excluded=row.excluded,
        made_at=row.made_at,
    )


def prediction_entry(prediction: Prediction) -> dict[str, Any]:
    """A prediction as JSON."""
    return {
        "lab": plain_list(prediction.lab),
        "covariance": plain_lists(prediction.covariance),
        "freedom": None if math.isinf(prediction.freedom) else prediction.freedom,
    }


def prediction_of(entry: dict[str, Any]) -> Prediction:
    """A prediction from JSON."""
    # JSON has no infinity, and predictions of older logbooks do not say.
    freedom = entry.get("freedom") or math.inf
    return Prediction(numbers(entry["lab"], 3), numbers(entry["covariance"], 3, 3), freedom)


@decoding
def change_of(row: ChangeRow) -> Change:
    """The alteration that a row tells of."""
    return Change(
        f"{row.table_name.removesuffix('s')} {row.row_id}", row.words, row.reason, row.made_at
    )


def _corners(corners: list[list[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((x, y) for x, y in corners)


def number_or_none(value: float | None) -> float | None:
    """A number as SQLite can hold it, or none."""
    return None if value is None else float(value)


def plain_list(vector: NDArray[np.float64]) -> list[float]:
    """A vector as JSON can carry it."""
    return [float(value) for value in vector]


def plain_lists(
    matrix: NDArray[np.float64] | tuple[tuple[float, float], ...],
) -> list[list[float]]:
    """Rows of numbers as JSON can carry them."""
    return [[float(value) for value in row] for row in matrix]
