"""Between the dataclasses of the rooms above and the rows of the tables.

A field and a column of one name hold the same; what a row has under other names is said here.
"""

from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import inspect

from tonematch.logbook.core import (
    Change,
    KeptAids,
    KeptComparison,
    KeptPhoto,
    KeptProposal,
    KeptReading,
    KeptStrips,
    KeptTrial,
    LayerInProgress,
    Piece,
    RecipeStep,
)
from tonematch.logbook.database.cells import CONVERTER, decoding
from tonematch.logbook.database.tables import (
    Base,
    ChangeRow,
    ComparisonRow,
    LaidRow,
    LayerRow,
    PhotographRow,
    PieceRow,
    PlanRow,
    ProposalRow,
    ReadingRow,
    StepRow,
    StripSheetRow,
    TrialRow,
)
from tonematch.logbook.photo_folder import find_photo
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Area, Comparison, Reading
from tonematch.toning.core import Application, Layer, Plan, Prediction, Proposal, Step, Trial

_Row = TypeVar("_Row", bound=Base)
_Value = TypeVar("_Value")


def row_of(table: type[_Row], *values: object, **others: Any) -> _Row:
    """A row of what the values have under the names of its columns, and of the others."""
    return table(**_cells_of(table, *values, **others))


def _cells_of(table: type[Base], *values: object, **others: Any) -> dict[str, Any]:
    columns = inspect(table).columns
    known = {
        field.name: getattr(value, field.name)
        for value in values
        for field in fields(value)  # type: ignore[arg-type]
        if field.name in columns
    }
    return {name: number_or_same(value) for name, value in (known | others).items()}


def value_of(kind: type[_Value], row: Base, **others: Any) -> _Value:
    """A value of what the row has under the names of its fields, and of the others."""
    columns = inspect(type(row)).columns
    known = {
        field.name: getattr(row, field.name)
        for field in fields(kind)  # type: ignore[arg-type]
        if field.name in columns
    }
    return kind(**known | others)


def number_or_same(value: Any) -> Any:
    """A number of NumPy as SQLite can hold it; anything else as it is."""
    return value.item() if isinstance(value, np.generic) else value


def _axes(prefix: str, lab: NDArray[np.float64]) -> dict[str, float]:
    return {f"{prefix}{axis}": float(value) for axis, value in zip("Lab", lab, strict=True)}


def _lab(row: Base, prefix: str = "") -> NDArray[np.float64]:
    return np.array([getattr(row, f"{prefix}{axis}") for axis in "Lab"], dtype=np.float64)


@decoding
def piece_of(row: PieceRow) -> Piece:
    """The piece that a row tells of."""
    return value_of(Piece, row)


@decoding
def photo_of(row: PhotographRow, folders: Sequence[Path]) -> KeptPhoto:
    """The photograph that a row tells of, and where its file lies."""
    return value_of(KeptPhoto, row, path=find_photo(folders, row.sha256, row.file_name))


def reading_row(
    reading: Reading, piece_id: int | None, photograph_id: int | None, aids: Aids | None = None
) -> ReadingRow:
    """The row for a reading, with its calibration where it carries one and what helped in that."""
    kept = None
    if aids is not None:
        # A plain sheet's picture is kept as a photograph of its own.
        sheet = "" if aids.flat_field is None else aids.flat_field.sha256
        kept = KeptAids(replace(aids, flat_field=None), sheet)
    return row_of(
        ReadingRow,
        reading,
        reading.area,
        **_axes("", reading.lab),
        piece_id=piece_id,
        photograph_id=photograph_id,
        aids=kept,
    )


@decoding
def reading_of(row: ReadingRow) -> KeptReading:
    """The reading that a row tells of."""
    reading = value_of(Reading, row, lab=_lab(row), area=value_of(Area, row))
    return value_of(KeptReading, row, reading=reading)


def comparison_row(
    comparison: Comparison, piece_id: int, original: ReadingRow, repair: ReadingRow
) -> ComparisonRow:
    """The row for a comparison of two readings."""
    low, high = map(float, comparison.interval)
    ends = {"interval_low": low, "interval_high": high}
    return row_of(
        ComparisonRow, comparison, **ends, piece_id=piece_id, original=original, repair=repair
    )


@decoding
def comparison_of(row: ComparisonRow) -> KeptComparison:
    """The comparison that a row tells of, with its readings."""
    original, repair = reading_of(row.original), reading_of(row.repair)
    comparison = value_of(
        Comparison,
        row,
        interval=(row.interval_low, row.interval_high),
        original=original.reading,
        repair=repair.reading,
    )
    return value_of(KeptComparison, row, comparison=comparison, original=original, repair=repair)


def proposal_row(proposal: Proposal, piece_id: int, comparison_id: int | None) -> ProposalRow:
    """The row for a proposal, with its plans and their steps."""
    plans = [
        row_of(PlanRow, plan, position=position, steps=_step_rows(plan.steps))
        for position, plan in enumerate(proposal.plans)
    ]
    tied = {"piece_id": piece_id, "comparison_id": comparison_id}
    return row_of(ProposalRow, proposal, **tied, plans=plans)


def _step_rows(steps: Iterable[Step]) -> list[StepRow]:
    return [row_of(StepRow, one, one.prediction, position=at) for at, one in enumerate(steps)]


@decoding
def proposal_of(row: ProposalRow) -> KeptProposal:
    """The proposal that a row tells of."""
    plans = tuple(value_of(Plan, plan, steps=_steps_of(plan)) for plan in row.plans)
    return value_of(KeptProposal, row, proposal=value_of(Proposal, row, plans=plans))


def _steps_of(row: PlanRow) -> tuple[Step, ...]:
    return tuple(value_of(Step, step, prediction=value_of(Prediction, step)) for step in row.steps)


def trial_row(trial: Trial) -> TrialRow:
    """The row for a trial, not yet tied to a piece or to readings."""
    return TrialRow(**trial_cells(trial))


def trial_cells(trial: Trial) -> dict[str, Any]:
    """What such a row holds, by column: for many trials at once."""
    colours = _axes("before_", trial.application.before) | _axes("after_", trial.after)
    return _cells_of(TrialRow, trial, trial.application, **colours, cautions=(), excluded=False)


def _place(row: PieceRow | None) -> dict[str, str]:
    return {} if row is None else {"piece": row.name, "zone": row.zone}


@decoding
def trial_of(row: TrialRow) -> Trial:
    """The trial that a row tells of."""
    return value_of(
        Trial,
        row,
        application=value_of(Application, row, before=_lab(row, "before_")),
        after=_lab(row, "after_"),
        **_place(row.piece),
    )


@decoding
def trial_as_read(row: TrialRow) -> Trial:
    """The same with how sure its readings are, for who learns from it."""
    before, after = (
        None if reading is None else reading.own_covariance for reading in (row.before, row.after)
    )
    return replace(trial_of(row), before_covariance=before, after_covariance=after)


@decoding
def kept_trial_of(row: TrialRow) -> KeptTrial:
    """The trial that a row tells of, with all that is tied to it."""
    before, after = (
        None if reading is None else reading_of(reading) for reading in (row.before, row.after)
    )
    return value_of(KeptTrial, row, trial=trial_as_read(row), before=before, after=after)


@decoding
def laid_of(row: LaidRow) -> LayerInProgress:
    """The layer in progress that a row tells of."""
    before = comparison_of(row.comparison).comparison
    return value_of(
        LayerInProgress,
        row,
        **_place(row.piece),
        application=value_of(Application, row, before=before.repair.lab),
        before=before,
        laid_at=row.made_at,
    )


def layer_row(layer: Layer) -> LayerRow:
    """The row for a layer of the gilder's own shelf."""
    entry = CONVERTER.unstructure(layer)
    return LayerRow(name=entry.pop("name"), kind=entry.pop("kind"), entry=entry)


@decoding
def layer_of(row: LayerRow) -> Layer:
    """The layer that a row tells of."""
    return CONVERTER.structure({"name": row.name, "kind": row.kind, **row.entry}, Layer)


def recipe_step_of(row: TrialRow) -> RecipeStep:
    """What was laid in a trial, as a step of a recipe."""
    return value_of(RecipeStep, row)


@decoding
def strips_of(row: StripSheetRow) -> KeptStrips:
    """The sheet of test strips that a row tells of."""
    return value_of(KeptStrips, row)


@decoding
def change_of(row: ChangeRow) -> Change:
    """The alteration that a row tells of."""
    kind = row.table_name.removesuffix("s").replace("s_", " ")
    return value_of(Change, row, subject=f"{kind} {row.row_id}")
