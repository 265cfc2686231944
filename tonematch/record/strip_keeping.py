"""A photographed sheet of test strips becomes trials in the logbook."""

from dataclasses import replace

from tonematch.logbook.core import KeptStrips, Piece
from tonematch.logbook.store import Logbook
from tonematch.record.strip_reading import SheetReading


def strips_name(piece: Piece, sheet: KeptStrips) -> str:
    """Under what name the strips of a sheet are kept: nothing of them lies on the repair."""
    return f"test strips for {piece.title}, sheet {sheet.id}"


def keep_sheet(
    logbook: Logbook,
    piece: Piece,
    sheet: KeptStrips,
    read: SheetReading,
    photograph: bytes,
    file_name: str,
) -> int:
    """Keep what was read from a sheet as trials, and its photograph with them.

    Parameters
    ----------
    piece : Piece
        For which the strips were made.
    sheet : KeptStrips
        What its strips stand on is kept as what lay there before their trials.
    read : SheetReading
        Of the piece `strips_name`; of an invented piece the trials say that they are invented.

    Returns
    -------
    int
        How many trials were added; those that the logbook holds already are not added again.
    """
    trials = [replace(t, note=f"invented: {t.note}") if piece.invented else t for t in read.trials]
    if not trials:
        return 0
    strips = _piece_of_strips(piece, sheet)
    if strips.name not in {known.name for known in logbook.pieces()}:
        logbook.add_piece(strips)
    added = logbook.add_trials(trials)
    logbook.keep_photo(photograph, file_name, strips.name)
    return added


def _piece_of_strips(piece: Piece, sheet: KeptStrips) -> Piece:
    ground = sheet.ground
    return replace(
        piece,
        name=strips_name(piece, sheet),
        zone="",
        technique=ground.gilding.technique,
        finish=ground.gilding.finish,
        bole=ground.bole,
        leaf=ground.leaf,
        hangs_in="",
        wish="",
        notes="",
        laid_before=tuple(layer.name for layer in ground.layers),
    )
