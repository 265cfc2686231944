"""A photographed sheet of test strips becomes trials in the logbook."""

from collections.abc import Sequence
from dataclasses import replace

from tonematch.logbook.core import KeptStrips, Piece
from tonematch.logbook.store import Logbook
from tonematch.record.strip_reading import SheetReading, stack_name
from tonematch.toning.core import Trial
from tonematch.toning.planning.ground import Ground


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
    whole = strips_name(piece, sheet)
    known = {one.name for one in logbook.pieces()}
    for name in dict.fromkeys((whole, *(trial.piece for trial in trials))):
        if name not in known:
            logbook.add_piece(_piece_of_strips(name, piece, sheet.ground))
    added = logbook.add_trials(trials)
    logbook.keep_photo(photograph, file_name, whole)
    return added


def layers_read(trials: Sequence[Trial], piece: Piece, sheet: KeptStrips) -> list[int]:
    """How many layers of each strip of a sheet were read as a stack's, in the sheet's order."""
    whole = strips_name(piece, sheet)
    steps: dict[str, int] = {}
    for trial in trials:
        steps[trial.piece] = max(trial.step, steps.get(trial.piece, 0))
    return [steps.get(stack_name(whole, n), 0) for n in range(1, len(sheet.strips) + 1)]


def _piece_of_strips(name: str, piece: Piece, ground: Ground) -> Piece:
    return replace(
        piece,
        name=name,
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
