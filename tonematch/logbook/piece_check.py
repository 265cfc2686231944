"""What a piece must be before it is kept."""

import math
from datetime import UTC, datetime
from typing import get_args

from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece, moment_of
from tonematch.logbook.trial_check import FINISHES, TECHNIQUES, ask_for, fault_of_text
from tonematch.measure.colour.difference import check_tolerance
from tonematch.toning.core import Glass
from tonematch.toning.layers.coats import MOST_CELSIUS


def check_piece(piece: Piece) -> None:
    """Refuse a piece that the logbook could not find again or use (LogbookError, ValueRefused)."""
    if not piece.name:
        raise LogbookError("Give the piece a name.")
    if not all(piece.laid_before):
        raise LogbookError("Each layer that lies on the piece needs a name: write one.")
    notes = {"bole": piece.bole, "leaf": piece.leaf, "place": piece.hangs_in}
    notes |= {"wish": piece.wish, "notes": piece.notes, "damage": piece.damage}
    notes |= {"condition": piece.condition, "place of the repair": piece.extent}
    notes |= {"person": piece.done_by}
    notes |= {f"maker of {layer}"[:60]: text for layer, text in piece.makers}
    faults = [("name", fault_of_text(piece.name)), ("zone", fault_of_text(piece.zone))]
    faults += [("first layers", fault_of_text(layer)) for layer in piece.laid_before]
    faults += [(called, fault_of_text(text, note=True)) for called, text in notes.items()]
    for called, fault in faults:
        if fault:
            raise LogbookError(f"The {called} of {piece.name[:20]!r} cannot be kept: {fault}.")
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
