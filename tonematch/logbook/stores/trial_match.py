"""Which trials of a table the logbook holds already, so that the same file can be taken twice."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import chain

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from tonematch.logbook.database import rows
from tonematch.logbook.database.tables import ChangeRow, PieceRow, TrialRow
from tonematch.logbook.stores import finding
from tonematch.logbook.stores.corrections import former_trials
from tonematch.toning.core import Trial

Identity = tuple[object, ...]

_NEITHER = (None, None)  # lustre before, and after


def places_held(session: Session, wanted: Sequence[Trial]) -> set[int]:
    """Places of the trials that are held already, each by a row of its own.

    A row is a trial's where it reads the same now, or did before a correction. Where only one of
    the two has any lustre they are one trial, too, and the row takes that up. The air that it was
    laid in tells no trial from another.
    """
    held = _numbers_by_identity(session)
    places, met = set[int](), set[int]()
    # Those with a lustre first: what has none could be any of them.
    for place in sorted(range(len(wanted)), key=lambda at: _lustres(wanted[at]) == _NEITHER):
        trial = wanted[place]
        same = (n for n in held[_identity(trial)] if n not in met)
        bare = (n for n in held[_identity(_without_lustre(trial))] if n not in met)
        number = next(same, None)
        if number is None:
            number = next((n for n in bare if _takes_up(session, n, trial)), None)
        if number is not None:
            places.add(place)
            met.add(number)
    return places


def _takes_up(session: Session, number: int, trial: Trial) -> bool:
    row = session.get_one(TrialRow, number)
    if (row.before_lustre, row.after_lustre) != _NEITHER:
        return False
    row.before_lustre, row.after_lustre = _lustres(trial)
    return True


def _numbers_by_identity(session: Session) -> defaultdict[Identity, Iterator[int]]:
    """Numbers of the trials that read so now, then that once did, then that do but for lustre."""
    # Rows as they are: made for an object each, they would take ten times as long.
    query = select(TrialRow.id, *_COLUMNS).outerjoin(TrialRow.piece).order_by(TrialRow.id)
    held = {number: tuple(said) for number, *said in session.connection().execute(query)}
    changes: dict[int, list[ChangeRow]] = {}
    for change in finding.trial_changes(session):
        changes.setdefault(change.row_id, []).append(change)
    once = (
        (number, _identity(former))
        for number, of_it in changes.items()
        for former in former_trials(rows.trial_of(session.get_one(TrialRow, number)), of_it)
    )
    bare = ((n, (*said[:-2], *_NEITHER)) for n, said in held.items() if said[-2:] != _NEITHER)
    numbers: dict[Identity, list[int]] = {}
    for number, identity in chain(held.items(), once, bare):
        numbers.setdefault(identity, []).append(number)
    return defaultdict(lambda: iter(()), {key: iter(found) for key, found in numbers.items()})


_COLUMNS = (
    func.coalesce(PieceRow.name, ""),
    *(TrialRow.date, TrialRow.step, TrialRow.note, TrialRow.layer, TrialRow.kind),
    *(TrialRow.strength, TrialRow.coats, TrialRow.technique, TrialRow.finish),
    *(getattr(TrialRow, f"{when}_{axis}") for when in ("before", "after") for axis in "Lab"),
    *(TrialRow.before_lustre, TrialRow.after_lustre),
)


def _identity(trial: Trial) -> Identity:
    application = trial.application
    return (
        *(trial.piece, trial.date, trial.step, trial.note),
        *(application.layer, application.kind, float(application.strength), application.coats),
        *(application.technique, application.finish),
        *map(float, application.before),
        *map(float, trial.after),
        *_lustres(trial),
    )


def _lustres(trial: Trial) -> tuple[float | None, float | None]:
    return trial.before_lustre, trial.after_lustre


def _without_lustre(trial: Trial) -> Trial:
    return replace(trial, before_lustre=None, after_lustre=None)
