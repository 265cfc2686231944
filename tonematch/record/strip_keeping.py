"""Test strips between a piece and its logbook: on what they are made, and where they are kept."""

from dataclasses import replace

from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.record.strip_reading import SheetReading


def ground_of(piece: Piece) -> str:
    """On what the strips of a piece are made, in words for the printed sheet."""
    words = ", ".join(word for word in (piece.bole, piece.leaf) if word)
    return f"the same ground, bole and leaf ({words})" if words else "the same ground and leaf"


def strips_name(piece: Piece) -> str:
    """Under what name the strips of a piece are kept: nothing of them lies on its repair."""
    return f"test strips for {piece.name}"


def keep_sheet(
    logbook: Logbook, piece: Piece, read: SheetReading, photograph: bytes, file_name: str
) -> int:
    """Keep what was read from a sheet as trials, and its photograph with them.

    Parameters
    ----------
    logbook : Logbook
    piece : Piece
        For which the strips were made.
    read : SheetReading
        Of the piece `strips_name`; of an invented piece the trials say that they are invented.
    photograph : bytes
    file_name : str

    Returns
    -------
    int
        How many trials were added; those that the logbook holds already are not added again.
    """
    trials = [replace(t, note=f"invented: {t.note}") if piece.invented else t for t in read.trials]
    added = logbook.add_trials(trials)
    if trials:
        logbook.keep_photo(photograph, file_name, strips_name(piece))
    return added
