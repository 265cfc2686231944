"""A photographed sheet of test strips becomes trials, and they are kept in the logbook."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from tonematch.errors import AreaError, ReadingError, ValueRefused
from tonematch.logbook.core import KeptStrips, Piece
from tonematch.measure.area.areas import corners_of, polygon_area
from tonematch.measure.calibration.card import calibrate
from tonematch.measure.core import Area, CardValue, Role
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo
from tonematch.record.strip_layout import FRAME, Rectangle, StripLayout, inner
from tonematch.toning.core import Application, Strip, Trial
from tonematch.toning.planning.ground import Ground

if TYPE_CHECKING:
    from tonematch.logbook.store import Logbook

Corner = tuple[float, float]


@dataclass(frozen=True, eq=False)
class SheetReading:
    """What one photograph of a sheet gave.

    Attributes
    ----------
    trials : tuple of Trial
        Of the strips that could be read, in the sheet's order; `note` has the strip's number and
        what it lies on. Every stack is a piece of its own, on which its layers are steps.
    refused : tuple of str
        One sentence for each strip, or layer of a stack, that could not.
    warnings : tuple of str
        About the card and the areas, each once.
    """

    trials: tuple[Trial, ...]
    refused: tuple[str, ...]
    warnings: tuple[str, ...]


def read_strips(
    photo: Photo,
    frame: Sequence[Corner],
    strips: Sequence[Strip],
    ground: Ground,
    card_value: CardValue,
    *,
    card: Area | None = None,
    piece: str = "test strips",
    date: str = "",
    made: Sequence[int] | None = None,
    layers: Sequence[int] = (1,),
) -> SheetReading:
    """Read one layer, or more, on every strip of a sheet.

    Parameters
    ----------
    frame : sequence of four (x, y)
        Corners of the printed black frame in pixels of the upright picture: the sheet's upper
        left, upper right, lower right and lower left, wherever they lie in the picture.
    strips : sequence of Strip
        Those that the sheet was printed for.
    ground : Ground
        What they stand on.
    card : Area, optional
        Where the card was marked; the sheet's own place for it by default.
    piece, date : str
        Of the trials; a stack's number follows its piece.
    made : sequence of int, optional
        Numbers, from 1, of the strips that were made; all by default.
    layers : sequence of int
        Which of each strip's layers to read, from 1; a strip that has no such layer is passed over.

    Raises
    ------
    AreaError
        Where the four corners are no frame, or the card's place reaches outside the picture.
    CardError
        Where the card cannot calibrate the picture.
    ValueRefused
        For the number of a strip, or of a layer, that the sheet does not have.
    """
    layout = StripLayout.of(strips)
    numbers = range(1, len(strips) + 1) if made is None else made
    _refuse_others("strip", numbers, len(strips))
    _refuse_others("layer", layers, max(layout.layers))
    to_picture = _to_picture(frame)
    card = card or _area("card", layout.card, to_picture, "card")
    calibration = calibrate(photo, card, card_value)
    trials, refused, warnings = [], [], list(calibration.warnings)
    for number in numbers:
        strip, fields = strips[number - 1], layout.fields(number - 1)
        stack = len(strip.steps) > 1
        for step in (n for n in layers if n <= len(strip.steps)):
            name = f"Strip {number}, layer {step}" if stack else f"Strip {number}"
            try:
                before, after = (
                    read_area(photo, _area(f"{name}, {part}", box, to_picture), calibration)
                    for part, box in (("before", fields[step - 1]), ("after", fields[step]))
                )
            except (AreaError, ReadingError) as error:
                refused.append(f"{name} is left out. {error}")
                continue
            warnings += [*before.warnings, *after.warnings]
            laid = strip.steps[step - 1]
            under = (*ground.layers, *strip.layers[: len(strip.first) + step - 1])
            application = Application(
                before.lab, laid.layer.name, laid.layer.kind, laid.strength, laid.coats,
                ground.gilding.technique, ground.gilding.finish,
                over=under[-1].kind if under else None,
            )  # fmt: skip
            beneath = ", then ".join(layer.name for layer in under) or "bare gold"
            note = f"strip {number}, over {beneath}"
            of_piece = stack_name(piece, number) if stack else piece
            trials.append(Trial(application, after.lab, of_piece, date, step, note))
    return SheetReading(tuple(trials), tuple(refused), tuple(dict.fromkeys(warnings)))


def stack_name(piece: str, number: int) -> str:
    """Under what name a sheet's stack is kept: its layers lie on one another, and on no other's."""
    return f"{piece}, strip {number}"


def strips_name(piece: Piece, sheet: KeptStrips) -> str:
    """Under what name the strips of a sheet are kept: nothing of them lies on the repair."""
    return f"test strips for {piece.title}, sheet {sheet.id}"


def keep_sheet(
    logbook: "Logbook",
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


def _refuse_others(what: str, numbers: Sequence[int], most: int) -> None:
    for number in numbers:
        if number not in range(1, most + 1):
            told = "only 1" if most == 1 else f"numbers from 1 to {most}"
            raise ValueRefused(f"The sheet has no {what} {number}: give {told}.")


def _to_picture(frame: Sequence[Corner]) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Perspective from the sheet's millimetres to the picture's pixels, 3 by 3."""
    marked = np.array(frame, dtype=np.float32)
    if (
        marked.shape != (4, 2)
        or not np.isfinite(marked).all()
        or not cv2.isContourConvex(marked)
        or cv2.contourArea(marked) < 100.0
    ):
        raise AreaError(
            "The four corners are no frame: mark the corners of the black frame one after "
            "another, the sheet's upper left first, then clockwise."
        )
    printed = np.array(corners_of(FRAME), dtype=np.float32)
    return np.asarray(cv2.getPerspectiveTransform(printed, marked), dtype=np.float64)


def _area(
    name: str,
    place: Rectangle,
    to_picture: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    role: Role = "area",
) -> Area:
    """The inner part of a place on the sheet, as an area of the picture."""
    points = np.array(corners_of(inner(place)), dtype=np.float64)[None]
    seen = cv2.perspectiveTransform(points, to_picture)[0]
    return polygon_area(name, [(float(x), float(y)) for x, y in seen], role)


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
