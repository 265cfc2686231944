"""What a correction of a trial leaves behind, and the trial as it stood before, read from that."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from tonematch.logbook.database import rows
from tonematch.logbook.database.tables import ChangeRow, ReadingRow, TrialRow
from tonematch.measure.words import plain_lab
from tonematch.toning.core import Trial
from tonematch.toning.planning.lustre_words import say_stops

# Under these words a trace holds the values that stood there before a correction, or up to the
# sixteenth step before one was taken back.
CORRECTED, PUT_BACK = "corrected", "put back"

Values = dict[str, Any]

_BEFORE = ("before_L", "before_a", "before_b")
_AFTER = ("after_L", "after_a", "after_b")
_LUSTRES = ("before_lustre", "after_lustre")
_TYPED = ("layer", "kind", "strength", "coats", *_BEFORE, *_AFTER)
# A prediction was made for these; with other values it is no longer that of the trial.
_FORETOLD_FROM = _TYPED[:-3]


def typed_values(trial: Trial) -> Values:
    """What a person may have mistyped of a trial, by the column of its table."""
    row = rows.trial_row(trial)
    return {column: getattr(row, column) for column in _TYPED}


def values_after(row: TrialRow, trial: Trial, cautions: Sequence[str] | None) -> Values:
    """All that a row holds once it says what `trial` says, by column.

    A colour that is no longer that of its reading lets go of it; where before and after were
    swapped, so are the readings, and the lustres unless the trial has others.
    """
    held, new = rows.trial_of(row), typed_values(trial)
    same, measured = typed_values(held), with_held_lustre(held, trial)
    tied = {
        "before_id": _reading_id(row.before, row.after, same, new, _BEFORE),
        "after_id": _reading_id(row.after, row.before, same, new, _AFTER),
    }
    foretold = all(new[column] == same[column] for column in _FORETOLD_FROM)
    return {
        **new,
        **tied,
        **{column: getattr(measured, column) for column in _LUSTRES},
        "prediction": row.prediction if foretold else None,
        "cautions": row.cautions if cautions is None else tuple(cautions),
    }


def with_held_lustre(held: Trial, trial: Trial) -> Trial:
    """A correction with the lustres of the trial as it is held, where it gives none of its own.

    A lustre goes with its colour: where before and after were swapped, so is it.
    """
    had = (held.before_lustre, held.after_lustre)
    same, new = typed_values(held), typed_values(trial)
    crossed = zip((*_BEFORE, *_AFTER), (*_AFTER, *_BEFORE), strict=True)
    kept = had[::-1] if new != same and all(new[to] == same[come] for to, come in crossed) else had
    given = (trial.before_lustre, trial.after_lustre)
    before, after = (
        stays if value in (None, earlier) else value
        for value, earlier, stays in zip(given, had, kept, strict=True)
    )
    return replace(trial, before_lustre=before, after_lustre=after)


def _reading_id(
    own: ReadingRow | None,
    other: ReadingRow | None,
    same: Values,
    new: Values,
    columns: tuple[str, ...],
) -> int | None:
    colour = tuple(new[column] for column in columns)
    if own is not None and colour == tuple(same[column] for column in columns):
        return own.id
    for reading in (own, other):
        if reading is not None and colour == (reading.L, reading.a, reading.b):
            return reading.id
    return None


def with_values(trial: Trial, values: Values) -> Trial:
    """A trial with some values by column in the place of its own."""
    row = rows.trial_row(trial)
    for column, value in values.items():
        setattr(row, column, value)
    return replace(rows.trial_of(row), piece=trial.piece, zone=trial.zone)


def say_correction(held: Trial, trial: Trial) -> str:
    """What differs between two states of a trial, for its trace and the record."""
    one, other = held.application, trial.application
    pairs = {
        "layer": (one.layer, other.layer),
        "strength": (f"{one.strength:g}", f"{other.strength:g}"),
        "coats": (str(one.coats), str(other.coats)),
        "L*a*b* before": (plain_lab(one.before), plain_lab(other.before)),
        "L*a*b* after": (plain_lab(held.after), plain_lab(trial.after)),
        "lustre before": (say_stops(held.before_lustre), say_stops(trial.before_lustre)),
        "lustre after": (say_stops(held.after_lustre), say_stops(trial.after_lustre)),
    }
    return "; ".join(f"{name} {a} to {b}" for name, (a, b) in pairs.items() if a != b)


def standing_corrections(changes: Sequence[ChangeRow]) -> dict[int, list[ChangeRow]]:
    """The corrections that were not undone, by trial; all oldest first."""
    undone = {change.undoes for change in changes}
    standing: dict[int, list[ChangeRow]] = {}
    for change in changes:
        if CORRECTED in change.before and change.id not in undone:
            standing.setdefault(change.row_id, []).append(change)
    return standing


def earlier_values(before: Values) -> Values:
    """The values by column in a trace; those of a correction stand under a word."""
    return before.get(CORRECTED) or before.get(PUT_BACK) or before


def former_trials(trial: Trial, changes: Sequence[ChangeRow]) -> Iterator[Trial]:
    """Everything that a trial ever said, the newest first, by its changes, the oldest first."""
    for change in reversed(changes):
        trial = with_values(trial, earlier_values(change.before))
        yield trial
