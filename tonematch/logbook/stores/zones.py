"""Rows of pieces and their zones by name; what holds for all golds of one piece."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict
from difflib import get_close_matches

from sqlalchemy import select
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.core import OF_THE_WHOLE, Piece
from tonematch.logbook.database import rows
from tonematch.logbook.database.tables import PieceRow
from tonematch.logbook.stores import finding
from tonematch.toning.core import Trial


def piece_row(session: Session, name: str, zone: str = "") -> PieceRow:
    """Row of a piece's zone, or of all the piece where it has no other.

    Raises LogbookError, with the nearest known names, where there is none, or no zone is named of
    more than one.
    """
    return _among(zone_rows(session, name), name, zone)


def _among(golds: Mapping[str, PieceRow], name: str, zone: str) -> PieceRow:
    if zone in golds or (len(golds) == 1 and not zone):
        return golds.get(zone) or next(iter(golds.values()))
    if "" in golds:
        raise LogbookError(
            f"{name} has no zone {zone!r}, for it is one gold: leave the zone out, or add it."
        )
    if not zone:
        told = ", ".join(map(repr, golds))
        raise LogbookError(f"{name} has more than one gold: say which zone is meant, of {told}.")
    near = ", ".join(map(repr, get_close_matches(zone, golds, n=3, cutoff=0.0)))
    raise LogbookError(
        f"No zone {zone!r} is on {name}: the nearest names are {near}; write one of them, or add "
        "the zone."
    )


def zone_rows(session: Session, name: str) -> dict[str, PieceRow]:
    """Rows of a piece by zone; LogbookError, with the nearest known name, where there is none."""
    found = list(session.scalars(finding.all_of(PieceRow, PieceRow.name == name)))
    if golds := {row.zone: row for row in found if row.removed_at is None}:
        return golds
    if found:
        raise _removed(name)
    known = [*pieces_by_name(session)]
    if not known:
        raise LogbookError(f"No piece {name!r} is in the logbook, which has none yet: add it.")
    nearest = get_close_matches(name, known, n=1, cutoff=0.0)[0]
    raise LogbookError(
        f"No piece {name!r} is in the logbook: the nearest name is {nearest!r}; write that, or "
        "add the piece."
    )


def asked(session: Session, name: str | None, zone: str) -> Collection[PieceRow] | None:
    """Rows of the piece or the zone that was named; None where none was."""
    if name is not None:
        return [piece_row(session, name, zone)] if zone else zone_rows(session, name).values()
    if zone:
        raise LogbookError(f"{zone!r} is a zone of a piece: say of which.")
    return None


def pieces_by_name(session: Session) -> dict[str, dict[str, PieceRow]]:
    """Rows of all pieces but those that were removed, each by its zones."""
    pieces: dict[str, dict[str, PieceRow]] = {}
    for row in session.scalars(finding.all_of(PieceRow, PieceRow.removed_at.is_(None))):
        pieces.setdefault(row.name, {})[row.zone] = row
    return pieces


def piece_row_for_trial(
    session: Session, trial: Trial, pieces: dict[str, dict[str, PieceRow]]
) -> PieceRow | None:
    """Row of the zone that a trial names; added, also to `pieces`, where there is none yet."""
    if not trial.piece:
        return None
    golds = pieces.setdefault(trial.piece, {})
    if golds and not trial.zone:
        return _among(golds, trial.piece, "")
    if trial.zone not in golds:
        piece = Piece(
            name=trial.piece,
            technique=trial.application.technique,
            finish=trial.application.finish,
            invented=trial.note.casefold().startswith("invented"),
            zone=trial.zone,
        )
        golds[trial.zone] = add_zone(session, piece, golds)
    return golds[trial.zone]


def add_zone(session: Session, piece: Piece, others: Mapping[str, PieceRow]) -> PieceRow:
    """A row for a new piece, or for another zone of one; gives what is known of the whole."""
    refuse_zone(piece, others)
    refuse_removed(session, piece.name, piece.zone)
    row, untold = PieceRow(**asdict(piece)), Piece("")
    for known in others.values():
        for field in OF_THE_WHOLE:
            if getattr(row, field) == getattr(untold, field):
                setattr(row, field, getattr(known, field))
    session.add(row)
    share_whole(session, row, others.values())
    return row


def share_whole(session: Session, row: PieceRow, others: Iterable[PieceRow]) -> None:
    """Say of the other zones of a piece what is said of it as a whole."""
    for other in others:
        whole = {field: getattr(row, field) for field in OF_THE_WHOLE}
        finding.alter(session, other, whole, "described anew")


def refuse_taken_name(session: Session, name: str) -> None:
    """Raise LogbookError when a piece of this name is there, or was and is removed."""
    refuse_removed(session, name)
    if session.scalars(select(PieceRow.id).where(PieceRow.name == name)).first() is not None:
        raise LogbookError(
            f"A piece named {name!r} is in the logbook already: open that one, or give another "
            "name."
        )


def refuse_removed(session: Session, name: str, zone: str | None = None) -> None:
    """Raise LogbookError when a piece of this name, or this zone of it, was removed."""
    removed = select(PieceRow.id).where(PieceRow.name == name, PieceRow.removed_at.is_not(None))
    if zone is not None:
        removed = removed.where(PieceRow.zone == zone)
    if session.scalars(removed).first() is not None:
        raise _removed(name)


def _removed(name: str) -> LogbookError:
    return LogbookError(
        f"{name!r} was removed from the logbook: undo that (tonematch logbook undo), or write "
        "another name."
    )


def check_beside_others(session: Session, row: PieceRow) -> None:
    """Raise LogbookError where a piece as it is now cannot stand beside its other zones."""
    golds = pieces_by_name(session).get(row.name, {})
    if row.zone in golds:
        refuse_zone(rows.piece_of(row), golds.keys() - {row.zone})


def refuse_zone(piece: Piece, others: Collection[str]) -> None:
    """Raise LogbookError where a zone cannot stand beside the others of its piece."""
    if piece.zone in others:
        raise LogbookError(
            f"{piece.name} has a zone {piece.zone!r} already: choose that one, or give another "
            "name."
        )
    if others and ("" in others or not piece.zone):
        raise LogbookError(
            f"{piece.name} has more than one gold then, and each needs a name: name the one that "
            "has none first."
        )
