"""Which trials of a table the logbook holds already, so that the same file can be taken twice."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from sqlalchemy.orm import Session

from tonematch.logbook.database import rows
from tonematch.logbook.database.tables import ChangeRow, TrialRow
from tonematch.logbook.stores import finding
from tonematch.logbook.stores.corrections import former_trials
from tonematch.toning.core import Trial

Identity = tuple[object, ...]

_NEITHER = (None, None)  # lustre before, and after


def places_held(session: Session, wanted: Sequence[Trial]) -> set[int]:
    """Places of the trials that are held already, each by a row of its own.

    A row is a trial's where it reads the same now, or did before a correction. Where only one of
    the two has any lustre they are one trial, too, and the row takes that up.
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
    trials = {row.id: rows.trial_of(row) for row in session.scalars(finding.trial_query())}
    changes: dict[int, list[ChangeRow]] = {}
    for change in finding.trial_changes(session):
        changes.setdefault(change.row_id, []).append(change)
    once = (
        (n, former) for n, of_it in changes.items() for former in former_trials(trials[n], of_it)
    )
    bare = ((n, _without_lustre(t)) for n, t in trials.items() if _lustres(t) != _NEITHER)
    numbers: dict[Identity, list[int]] = {}
    for number, trial in (*trials.items(), *once, *bare):
        numbers.setdefault(_identity(trial), []).append(number)
    return defaultdict(lambda: iter(()), {key: iter(found) for key, found in numbers.items()})


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
