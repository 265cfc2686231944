"""What a photograph cannot show by itself: asked before a verdict, a sentence each."""

from collections.abc import Sequence

import numpy as np

from tonematch.arrays import Vector3
from tonematch.measure.area.pixels import MIDDLE_GREY, area_pixels
from tonematch.measure.calibration.card_checks import LOOKS_COLOURED
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.core import Area, Calibration, Reading
from tonematch.measure.words import join_words
from tonematch.photo.core import Photo
from tonematch.swatchbook import limits


def with_asked(
    said: Sequence[str], photo: Photo, cards: Sequence[Area], readings: Sequence[Reading]
) -> tuple[str, ...]:
    """Warnings, and before them what is to be asked about the readings of one photograph.

    `cards` are further cards beside that of the calibration, which the readings share.
    """
    calibration = readings[0].calibration if readings else None
    if calibration is None:
        return tuple(said)
    gilded = [one for one in readings if one.area.role in ("original", "repair")]
    asked = _gold_for_card(photo, calibration, gilded)
    if asked:
        said = [words for words in said if words != LOOKS_COLOURED]
    asked = asked or _no_gilding(gilded)
    asked += _far_from_card(photo, calibration, cards, readings)
    return tuple(dict.fromkeys([*asked, *said]))


def _gold_for_card(photo: Photo, calibration: Calibration, gilded: Sequence[Reading]) -> list[str]:
    """A card that looks like gold beside gilding that reads without colour, or bluish."""
    limit = limits("gilding")
    pale = [one for one in gilded if _chroma(one.lab) < limit["pale"] or not _is_gilding(one.lab)]
    if not pale:
        return []
    xyz = photo.to_xyz @ np.median(area_pixels(photo, calibration.card).light, axis=0)
    card = xyz_to_lab(MIDDLE_GREY * xyz / xyz[1])
    if _chroma(card) < limit["card_chroma"] or not _is_gilding(card):
        return []
    return [
        f"What is marked as the card is coloured like gold, and {_names(pale)} beside it "
        f"{_read(pale)} pale: see that the grey card is marked, and no gold throws its colour "
        "on it."
    ]


def _no_gilding(gilded: Sequence[Reading]) -> list[str]:
    """Gilding that reads without colour, or of a hue that neither leaf, bole nor toning has."""
    grey = [one for one in gilded if _chroma(one.lab) < limits("gilding")["neutral"]]
    other = [one for one in gilded if one not in grey and not _is_gilding(one.lab)]
    said = []
    if grey:
        said.append(
            f"{_names(grey)} {_read(grey)} neutral, as silver leaf does and gold does not: if it "
            "is no silver, mark the gilding itself."
        )
    if other:
        said.append(
            f"{_names(other)} {_read(other)} {_hue_word(other[0].lab)}, which gilding is not: mark "
            "the gilding itself, and see that the card lies in its light, away from another lamp."
        )
    return said


def _far_from_card(
    photo: Photo, calibration: Calibration, cards: Sequence[Area], readings: Sequence[Reading]
) -> list[str]:
    """Areas so far from every card that the light may have another colour there."""
    if calibration.even is not None and calibration.even.grid is not None:
        return []
    middles = np.array([np.mean(card.corners, axis=0) for card in (calibration.card, *cards)])
    apart = [
        np.linalg.norm(middles - np.mean(one.area.corners, axis=0), axis=1).min()
        / max(photo.width, photo.height)
        for one in readings
    ]
    furthest = int(np.argmax(apart))
    if apart[furthest] <= limits("light")["far_from_card"]:
        return []
    return [
        f"'{readings[furthest].area.name}' lies {100 * apart[furthest]:.0f} % of the picture's "
        "longer side from the card, and a coloured wall or curtain may tint the light unseen: lay "
        "a second card beside it, and mark that as well."
    ]


def _chroma(lab: Vector3) -> float:
    return float(np.hypot(lab[1], lab[2]))


def _is_gilding(lab: Vector3) -> bool:
    """Whether a hue is one of leaf, brass, bole or toning; see ``swatches/limits.toml``."""
    limit = limits("gilding")
    return bool(limit["hue_from"] <= np.degrees(np.arctan2(lab[2], lab[1])) <= limit["hue_to"])


def _hue_word(lab: Vector3) -> str:
    hue = np.degrees(np.arctan2(lab[2], lab[1])) % 360.0
    return "green" if 90.0 < hue < 200.0 else "bluish" if 200.0 <= hue < 310.0 else "purple"


def _names(readings: Sequence[Reading]) -> str:
    return join_words([f"'{one.area.name}'" for one in readings])


def _read(readings: Sequence[Reading]) -> str:
    return "reads" if len(readings) == 1 else "read"
