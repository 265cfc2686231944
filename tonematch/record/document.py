"""The record: one HTML file for the owner and for whoever opens the piece next.

It holds everything itself, pictures and all, so that it can be printed, sent and kept.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece, PieceHistory, moment_of
from tonematch.measure.core import GEOMETRY
from tonematch.record.account import (
    in_order,
    laid,
    materials,
    measured,
    not_read,
    standing_of,
)
from tonematch.record.page import page
from tonematch.record.pictures import pictures_of
from tonematch.toning.core import Layer
from tonematch.toning.layers.mix import say_full_strength
from tonematch.toning.layers.shelf import load_shelf
from tonematch.wholefile import write_whole

# By this line in its head a record is known, and may be written over by a newer one.
MARK = '<meta name="generator" content="tonematch record">'
_HEAD_BYTES = 1000


def write_record(
    histories: Sequence[PieceHistory], out: Path, shelf: Mapping[str, Layer] | None = None
) -> Path:
    """Write a piece's record as one HTML file that needs nothing beside it.

    Parameters
    ----------
    histories : sequence of PieceHistory
        Of its zones, or the one of all the piece.
    out : pathlib.Path
        Written whole or not at all. A file that is there is replaced only when it is a record.
    shelf : mapping of str to Layer, optional
        For materials, reversibility and cautions; the shelf that ships with tonematch unless
        given. The layers of the histories come before it.

    Returns
    -------
    pathlib.Path
        `out`.

    Raises
    ------
    LogbookError
        When the path cannot be written, or holds something that is not a record.
    """
    known = dict(load_shelf() if shelf is None else shelf)
    known |= {layer.name: layer for history in histories for layer in history.layers}
    _refuse_other_files(out)
    page = _render(histories, known)
    try:
        write_whole(out, page.encode("utf-8"))
    except OSError as error:
        raise LogbookError(
            f"The record cannot be written to {out} ({error.strerror}): give a path in a folder "
            "that exists and can be written."
        ) from error
    return out


def _refuse_other_files(out: Path) -> None:
    try:
        if not out.exists():
            return
        if out.is_dir():
            raise LogbookError(
                f"{out} is a folder: give the path of a file for the record, such as "
                f"{out / 'record.html'}."
            )
        with out.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except OSError as error:
        raise LogbookError(
            f"The record cannot be written to {out} ({error.strerror}): give another path."
        ) from error
    if MARK.encode() not in head:
        raise LogbookError(
            f"{out} exists and is not a record of tonematch, so it was left as it is: give the "
            "record another name."
        )


def _render(histories: Sequence[PieceHistory], shelf: Mapping[str, Layer]) -> str:
    return page(
        "record.html.jinja",
        piece=histories[0].piece,
        opened_on=min(history.made_at for history in histories)[:10],
        zones=[_zone(history, shelf) for history in histories],
        geometry=GEOMETRY,
        default_tolerance=Piece("").tolerance,
        say_full_strength=say_full_strength,
        made_on=datetime.now(UTC).date().isoformat(),
        version=_version(),
    )


def _zone(history: PieceHistory, shelf: Mapping[str, Layer]) -> dict[str, object]:
    """What the record says of one gold."""
    gilded_at, waiting = history.piece.gilded_at, history.in_progress
    closed, standing = standing_of(next(reversed(history.comparisons), None), waiting)
    return {
        "piece": history.piece,
        "closed": closed,
        "standing": standing,
        "comparisons": [measured(kept) for kept in history.comparisons],
        "gilded_at": f"{moment_of(gilded_at):%Y-%m-%d at %H:%M}" if gilded_at else "",
        "layers": [laid(kept, shelf) for kept in in_order(history.trials)],
        "not_read": None if waiting is None else not_read(waiting),
        "materials": materials(history, shelf),
        "pictures": pictures_of(history),
        "changes": history.changes,
    }


def _version() -> str:
    try:
        return version("tonematch")
    except PackageNotFoundError:
        return "from a checkout"
