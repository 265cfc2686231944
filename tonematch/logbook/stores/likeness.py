"""Trials found again: 'what have I laid that looked like this?'

CIEDE2000 of every trial is computed: of 100,000 it takes a tenth of the time in which their colours
are read from the file, and a coarse filter that misses none, by L*, spares little among golds.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from tonematch.arrays import Vector3
from tonematch.logbook.core import KeptTrial
from tonematch.logbook.database import rows
from tonematch.logbook.database.damage import refuse_damage
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import PieceRow, TrialRow
from tonematch.logbook.stores import finding, zones
from tonematch.measure.colour.difference import NEAR, delta_e_2000
from tonematch.toning.core import Finish, Technique

_SHOWN, _LISTED = 10, 500
_AT_ONCE = 1000  # rows asked for by their numbers: SQLite takes only so many in one query


@dataclass(frozen=True, eq=False)
class Asked:
    """What is looked for; what is left out asks nothing.

    Attributes
    ----------
    like, before, after : ndarray, shape (3,), or None
        CIELAB (D50, 2 degree) that the surface had before or after the layer, before it, after it.
    """

    like: Vector3 | None = None
    before: Vector3 | None = None
    after: Vector3 | None = None
    words: str = ""  # each is in the layer, kind, piece, zone, bole or note, whatever its capitals
    piece: str | None = None
    zone: str = ""
    layer: str | None = None
    technique: Technique | None = None
    finish: Finish | None = None
    bole: str | None = None  # of the piece, as it is written there
    since: str | None = None  # a day, ISO 8601; a trial without one is left out
    among: tuple[int, ...] | None = None  # numbers of the trials that are looked through
    excluded: bool | None = None  # whether nothing is learned from it
    count: int | None = None  # at most the 10 nearest in colour, or 500 newest, unless given
    skip: int = 0  # after so many of them

    @property
    def by_colour(self) -> bool:
        """Whether a colour is looked for."""
        return any(lab is not None for lab in (self.like, self.before, self.after))


@dataclass(frozen=True, eq=False)
class Found:
    """Trials as they were asked for: the nearest in colour first, else the oldest first."""

    trials: tuple[KeptTrial, ...]
    away: tuple[float, ...]  # CIEDE2000 of each, the greatest asked for; empty without a colour
    met: int  # how many there are, shown or not; 0 where the nearest is given and is not near
    of: int  # how many trials the logbook holds


class LikenessStore(LogbookStore):
    """Trials by what they looked like, and by all else that is known of them."""

    def find_trials(self, asked: Asked) -> Found:
        """The trials that are asked for, those left out of what is learned among them."""
        with self.reading() as session:
            of = session.scalars(select(func.count(TrialRow.id))).one()
            if asked.by_colour:
                numbers, away = _by_colour(session, asked)
                met = int(np.count_nonzero(away <= NEAR))
                nearest = np.argsort(away, kind="stable")[: met or 1]
                shown = nearest[asked.skip :][: asked.count or _SHOWN]
                trials = _trials(session, numbers[shown].tolist())
                return Found(trials, tuple(away[shown].tolist()), met, of)
            every = session.scalars(_asked_for(session, asked, [TrialRow.id])).all()
            newest = every[::-1][asked.skip :][: asked.count or _LISTED]
            return Found(_trials(session, newest[::-1]), (), len(every), of)

    def layers_laid(self) -> list[str]:
        """Names of all layers that there are trials of."""
        with self.reading() as session:
            return list(session.scalars(select(TrialRow.layer).distinct().order_by(TrialRow.layer)))


def _by_colour(session: Session, asked: Asked) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Numbers of the trials that fit all else and their CIEDE2000, oldest first."""
    sides = [
        side
        for side in ("before", "after")
        if asked.like is not None or getattr(asked, side) is not None
    ]
    columns = [getattr(TrialRow, f"{side}_{axis}") for side in sides for axis in "Lab"]
    query = _asked_for(session, asked, [TrialRow.id, *columns])
    # Rows as the driver has them: with an object for each they would take twice as long.
    found = cast("Iterable[Sequence[float]]", session.connection().execute(query).cursor)
    try:
        cells = np.fromiter(chain.from_iterable(found), np.float64)
    except (TypeError, ValueError):
        refuse_damage(session)
        raise
    table = cells.reshape(-1, 1 + len(columns))
    colours = dict(zip(sides, np.split(table[:, 1:], len(sides), axis=1), strict=True))
    parts = [
        delta_e_2000(lab, colours[side])
        for side in sides
        if (lab := getattr(asked, side)) is not None
    ]
    if asked.like is not None:
        parts.append(np.minimum(*(delta_e_2000(asked.like, lab) for lab in colours.values())))
    return table[:, 0].astype(np.int64), np.max(parts, axis=0)


def _asked_for(session: Session, asked: Asked, columns: Sequence[Any]) -> Select[Any]:
    """Columns of the trials that fit all but the colour, oldest first."""
    query = select(*columns).order_by(TrialRow.id)
    pieces = zones.asked(session, asked.piece, asked.zone)
    if pieces is not None:
        query = query.where(TrialRow.piece_id.in_([row.id for row in pieces]))
    for name in ("layer", "technique", "finish", "excluded"):
        if (value := getattr(asked, name)) is not None:
            query = query.where(getattr(TrialRow, name) == value)
    if asked.since is not None:
        query = query.where(TrialRow.date >= asked.since)
    if asked.among is not None:
        query = query.where(TrialRow.id.in_(asked.among))
    query = query.outerjoin(TrialRow.piece)
    if asked.bole is not None:
        query = query.where(PieceRow.bole == asked.bole)
    if words := asked.words.split():
        of_piece = (func.coalesce(c, "") for c in (PieceRow.name, PieceRow.zone, PieceRow.bole))
        text = TrialRow.layer + " " + TrialRow.kind + " " + TrialRow.note
        for column in of_piece:
            text = text + " " + column
        query = query.where(*(text.icontains(word, autoescape=True) for word in words))
    return query


def _trials(session: Session, numbers: Sequence[int]) -> tuple[KeptTrial, ...]:
    """Trials in the order of their numbers here."""
    found = {
        row.id: rows.kept_trial_of(row)
        for start in range(0, len(numbers), _AT_ONCE)
        for row in session.scalars(
            finding.trial_query().where(TrialRow.id.in_(numbers[start : start + _AT_ONCE]))
        )
    }
    return tuple(found[number] for number in numbers)
