"""The record: one file for the owner and for whoever opens the piece next.

It holds everything itself, pictures, type and all, so that it can be printed, sent and kept. Its
fields are those of the AIC Commentaries to the Guidelines for Practice, 23 (compensation: it comes
off, it can be found again, its materials are named), 27 (dated, with the operator) and 28 (a paper
copy); and, from memory, of EN 16095:2012 (condition: what the object is, in what state it came,
what is damaged, where and how much, who said so and when).
"""

from base64 import b64encode
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from tonematch.errors import LogbookError
from tonematch.logbook.core import Air, Piece, PieceHistory, moment_of
from tonematch.logbook.letterhead import HEADING
from tonematch.measure.core import GEOMETRY
from tonematch.record.account import (
    aftercare,
    cautions_of,
    in_order,
    laid,
    lasting_cautions,
    materials,
    measured,
    standing_of,
    taken_off_by,
    verdict_in_words,
)
from tonematch.record.page import MARK, page, pdf_of
from tonematch.record.pictures import close_ups, pictures_of
from tonematch.swatchbook import swatch_path
from tonematch.toning.layers.mix import say_full_strength
from tonematch.toning.layers.shelf import load_shelf
from tonematch.wholefile import refuse_ending, unwritable_told, write_whole

FACE = "DejaVuSansCondensed"
_HEAD, _TAIL = 1000, 100  # bytes


def write_record(histories: Sequence[PieceHistory], out: Path) -> Path:
    """Write a piece's record, of its zones or the one of all of it, as one file; gives its path.

    It is a PDF or HTML, by the end of its name, and needs nothing beside it. A file that is there
    is replaced only when it is a record. Raises LogbookError when it is not, or the path cannot be
    written, or no PDF can be made on this machine; ValueRefused when the workshop's heading cannot
    be read.
    """
    _refuse_other_files(out)
    refuse_ending(out, "the record", ".pdf", ".html", ".htm")
    html = record_html(histories)
    record = pdf_of(html) if out.suffix.casefold() == ".pdf" else html.encode("utf-8")
    with unwritable_told(out, "the record"):
        write_whole(out, record)
    return out


def _refuse_other_files(out: Path) -> None:
    with unwritable_told(out, "the record"):
        if not out.exists():
            return
        if out.is_dir():
            raise LogbookError(
                f"{out} is a folder: give the path of a file for the record, such as "
                f"{out / 'record.pdf'}."
            )
        with out.open("rb") as file:
            ends = file.read(_HEAD)
            file.seek(-min(_TAIL, out.stat().st_size), 2)
            ends += file.read()
    if MARK not in ends:
        raise LogbookError(
            f"{out} exists and is not a record of tonematch, so it was left as it is: give the "
            "record another name."
        )


def record_html(histories: Sequence[PieceHistory]) -> str:
    """The record as HTML; see `write_record`."""
    known = load_shelf() | {layer.name: layer for history in histories for layer in history.layers}
    zones = [_zone(history) for history in histories]
    used = materials(histories, known)
    lying = [material for material in used if material.lies]
    piece = histories[0].piece
    return page(
        "record.html.jinja",
        mark=MARK.decode(),
        piece=piece,
        # A name in a style sheet: no character of it can end the text that it stands in.
        name_in_css="".join(f"\\{ord(character):06x}" for character in piece.name),
        heading=HEADING.value(),
        type_face={
            weight: b64encode(swatch_path("fonts", f"{FACE}{name}.woff").read_bytes()).decode()
            for weight, name in (("normal", ""), ("bold", "-Bold"))
        },
        opened_on=min(history.made_at for history in histories)[:10],
        zones=zones,
        open_zones=[z["piece"].zone for z in zones if not z["closed"]],
        used=used,
        lying=lying,
        ways_off=taken_off_by(lying),
        cautions=cautions_of(lying),
        of_surface=dict.fromkeys(one for each in histories for one in lasting_cautions(each.piece)),
        aftercare=aftercare(lying, mirror=piece.glass.endswith("mirror")),
        geometry=GEOMETRY,
        default_tolerance=Piece("").tolerance,
        say_full_strength=say_full_strength,
        made_on=datetime.now(UTC).date().isoformat(),
        version=_version(),
    )


def _zone(history: PieceHistory) -> dict[str, Any]:
    """What the record says of one gold."""
    gilded_at, waiting, kept = history.piece.gilded_at, history.in_progress, history.comparisons
    last = next(reversed(kept), None)
    air = "" if waiting is None else Air(waiting.temperature, waiting.humidity).words
    pictures = pictures_of(history)
    place = kept[0].repair.reading.photo_sha256 if kept else ""
    return {
        "piece": history.piece,
        "closed": standing_of(last, waiting)[0],
        "verdict": verdict_in_words(last, waiting),
        "close_ups": close_ups(history),
        "comparisons": [measured(one) for one in kept],
        "gilded_at": f"{moment_of(gilded_at):%Y-%m-%d at %H:%M}" if gilded_at else "",
        "layers": [laid(one) for one in in_order(history.trials)],
        "waiting": waiting,
        "waiting_in": f" at {air}" if air else "",
        "place": [picture for picture in pictures if picture.photo.sha256 == place],
        "others": [picture for picture in pictures if picture.photo.sha256 != place],
        "pictures": pictures,
        "changes": dict.fromkeys(
            f"{change.made_at[:10]}: {change.subject} {change.words}"
            + (f" ({change.reason})" if change.reason else "")
            for change in history.changes
        ),
    }


def _version() -> str:
    try:
        return version("tonematch")
    except PackageNotFoundError:
        return "from a checkout"
