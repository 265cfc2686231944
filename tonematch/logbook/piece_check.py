"""What a piece must be before it is kept."""

import math
import unicodedata
from datetime import UTC, datetime
from typing import get_args

from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece, moment_of
from tonematch.logbook.trial_check import FINISHES, TECHNIQUES, ask_for
from tonematch.measure.colour.difference import check_tolerance
from tonematch.toning.core import Glass
from tonematch.toning.layers.drying import MOST_CELSIUS
from tonematch.toning.layers.layer_entry import MOST_NAME, MOST_TEXT, fault_of_length


def check_piece(piece: Piece) -> None:
    """Refuse a piece that the logbook could not find again or use (LogbookError, ValueRefused)."""
    name = piece.name
    if not name or name != name.strip():
        raise LogbookError(
            f"The name {name!r} cannot be used for a piece: give it a name without blanks at its "
            "ends."
        )
    if piece.zone != piece.zone.strip():
        raise LogbookError(f"The zone {piece.zone!r} has blanks at its ends: take them off.")
    for text in (name, piece.zone or name, *piece.laid_before):
        if not text or any(unicodedata.category(character) in ("Cc", "Cs") for character in text):
            raise LogbookError(
                f"The name {text!r} is empty or holds a character that cannot be printed: type it "
                "anew."
            )
    texts = {
        "name": name,
        "zone": piece.zone,
        "bole": piece.bole,
        "leaf": piece.leaf,
        "place": piece.hangs_in,
        "wish": piece.wish,
        "notes": piece.notes,
    }
    for called, text in texts.items():
        long = fault_of_length(text, MOST_NAME if called in ("name", "zone") else MOST_TEXT)
        if long:
            raise LogbookError(f"The {called} of {name[:20]!r} cannot be kept: {long}.")
    kinds: tuple[tuple[str, str, tuple[str, ...]], ...] = (
        (piece.technique, "technique of gilding", TECHNIQUES),
        (piece.finish, "finish", FINISHES),
        (piece.glass, "glass", get_args(Glass)),
    )
    for said, what, known in kinds:
        if said not in known:
            raise LogbookError(f"{said!r} is not a {what} known here: {ask_for(known)}.")
    _check_numbers(piece)


def _check_numbers(piece: Piece) -> None:
    distance = piece.viewing_distance_m
    if distance is not None and not (math.isfinite(distance) and distance > 0):
        raise LogbookError(
            f"A viewing distance of {distance} m cannot be used: give metres above 0, or leave it "
            "empty."
        )
    if piece.gilded_at and moment_of(piece.gilded_at) > datetime.now(UTC):
        raise LogbookError(
            "The gold cannot have been laid at a time that has not come yet: put the date right, "
            "or leave it empty."
        )
    if piece.humidity is not None and not 0 <= piece.humidity <= 100:
        raise LogbookError(
            f"A relative humidity of {piece.humidity:g} % cannot be: give 0 to 100, or leave it "
            "empty."
        )
    if piece.temperature is not None and not 0 <= piece.temperature <= MOST_CELSIUS:
        raise LogbookError(
            f"A workshop of {piece.temperature:g} degrees Celsius cannot be: give 0 to "
            f"{MOST_CELSIUS:g}, or leave it empty."
        )
    check_tolerance(piece.tolerance)
