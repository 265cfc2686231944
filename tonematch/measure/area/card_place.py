"""Where grey, white and black cards may lie in a picture: proposed, for a person to take or leave.

A plain card is a large, even, nearly neutral rectangle that ends inside the picture. What looks
like many rectangles of one size is a chart, whose greys are no cards.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.errors import MARK_CARD, CardError
from tonematch.measure.area.areas import Box
from tonematch.photo.core import Photo
from tonematch.photo.light import clipped
from tonematch.photo.preview import preview
from tonematch.swatchbook import limits

# Choices of this project, tried on the bundled, rendered and real photographs of the tests.
_SEEN = 640  # longest side of the picture that is searched
_STEP = 6.0  # change of CIELAB within five pixels above which an edge begins
_SMALLEST, _LARGEST = 0.002, 0.2  # of the picture
_FULL = 0.8  # part of its upright or turned rectangle that a card fills
_LONGEST = 3.0  # times as long as wide
_UNEVEN = 4.0  # standard deviation of L* within a card, a steady change among it
_APART = 2.0  # CIELAB from a card's middle: beyond it lies its margin or its print
_CLIPPED = 0.5  # of the picture: what looks grey in the rest is a black card
_DARKEST, _LIGHTEST = 22.0, 78.0  # L* of what can be the grey card, as the file shows it
_CARD_L = 49.5
_TIMES = 2.2  # white over grey and grey over black, in light: 5 and 4.5 by the usual cards
_LIKE_SIZE = 2.5  # cards of one set differ by no more, in area
_CHART = 5  # rectangles of one size, of whatever colour, that are a chart's
_CHART_SIZE = 1.5
_WITHIN = (0.8, 0.7, 0.6, 0.5, 0.4, 0.3)  # of a card's sides: the first that lies well inside


@dataclass(frozen=True, eq=False)
class _Field:
    """An even rectangle: pixels of it, its mean CIELAB and where it lies in the small picture."""

    pixels: int
    lab: NDArray[np.float32]
    box: Box

    @property
    def light(self) -> float:
        """Of all that falls on it, from L*."""
        return float(((self.lab[0] + 16.0) / 116.0) ** 3)


def find_cards(photo: Photo) -> dict[str, Box]:
    """Where a grey, a white and a black card may lie, by "grey", "white" and "black".

    Well inside each card, pixels of the photograph; empty where no grey card is seen.
    """
    cards, scale = _cards(photo)
    return _boxes(photo, _named(cards), scale)


def the_cards(photo: Photo) -> dict[str, Box]:
    """What `find_cards` finds, to be used though nobody has looked at it.

    Raises CardError where no grey card is seen, or more than one field may be it.
    """
    if (share := _overexposed(preview(photo, _SEEN)[0])) > _CLIPPED:
        raise CardError(
            f"{photo.name} is overexposed ({100 * share:.0f} % of it is clipped), and no grey card "
            f"is found in it: photograph again with less exposure, or {MARK_CARD}."
        )
    cards, scale = _cards(photo)
    found = _named(cards)
    tones = [found[name] for name in ("white", "black") if name in found]
    greys = [one for one in cards if _may_be_grey(one) and one not in tones]
    if not greys:
        raise CardError(f"No grey card is found in {photo.name}: {MARK_CARD}.")
    if len(greys) > 1:
        places = (",".join(f"{side:g}" for side in _box_of(one.box, scale)) for one in greys)
        raise CardError(
            f"More than one field in {photo.name} may be the grey card, at "
            f"{' and at '.join(places)}: {MARK_CARD}."
        )
    return _boxes(photo, found, scale)


def _boxes(photo: Photo, named: Mapping[str, _Field], scale: float) -> dict[str, Box]:
    """Where cards lie in the photograph itself; what is overexposed there teaches nothing."""
    boxes = {name: _box_of(field.box, scale) for name, field in named.items()}
    return {name: box for name, box in boxes.items() if name == "grey" or not _clipped(photo, box)}


def _clipped(photo: Photo, box: Box) -> bool:
    x, y, w, h = map(int, box)
    share = clipped(photo, x, y, x + w, y + h).mean()
    return bool(share > limits("tone")["clipped_refused"])


def _cards(photo: Photo) -> tuple[list[_Field], float]:
    """Fields that may be plain cards, in a picture made smaller by a scale."""
    picture, scale = preview(photo, _SEEN)
    if _overexposed(picture) > _CLIPPED:
        return [], scale
    fields = _even_fields(picture)
    return [one for one in fields if _is_plain(one) and not _of_chart(one, fields)], scale


def _overexposed(picture: NDArray[np.uint8]) -> float:
    """The share of a picture in which a channel is clipped."""
    return float((picture == 255).any(axis=-1).mean())


def _even_fields(picture: NDArray[np.uint8]) -> list[_Field]:
    """Even rectangles that end inside the picture."""
    lab = cv2.cvtColor(picture.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    calm = cv2.GaussianBlur(lab, (0, 0), 1.2)
    calmer = cv2.GaussianBlur(lab, (0, 0), 2.5)
    window = np.ones((5, 5), np.uint8)
    change = np.linalg.norm(cv2.dilate(calm, window) - cv2.erode(calm, window), axis=-1)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (change < _STEP).astype(np.uint8), connectivity=4
    )
    height, width = labels.shape
    found = []
    for k in range(1, count):
        x, y, w, h, pixels = (int(value) for value in stats[k])
        inside = x > 0 and y > 0 and x + w < width and y + h < height
        if not inside or not _SMALLEST < pixels / (width * height) < _LARGEST:
            continue
        part = np.s_[y : y + h, x : x + w]
        here = labels[part] == k
        colour = np.median(lab[part][here], axis=0)
        even = here & (np.linalg.norm(calmer[part] - colour, axis=-1) < _APART)
        box = _rectangle(here, even)
        if box is not None and float(lab[part][here][:, 0].std()) < _UNEVEN:
            found.append(_Field(pixels, colour, (x + box[0], y + box[1], box[2], box[3])))
    return found


def _rectangle(here: NDArray[np.bool_], even: NDArray[np.bool_]) -> Box | None:
    """An upright even box well inside a shape; None where that is no rectangle."""
    edges, _ = cv2.findContours(here.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    edge = max(edges, key=len)
    _, sides, _ = cv2.minAreaRect(edge)
    if cv2.contourArea(edge) < _FULL * sides[0] * sides[1] or max(sides) > _LONGEST * min(sides):
        return None
    if not even.any():
        return None
    cy, cx = np.argwhere(even).mean(axis=0)
    height, width = here.shape
    for part in _WITHIN:
        half = part * width / 2.0, part * height / 2.0
        x0, y0 = max(0, round(cx - half[0])), max(0, round(cy - half[1]))
        x1, y1 = min(width, round(cx + half[0])), min(height, round(cy + half[1]))
        if x1 > x0 and y1 > y0 and even[y0:y1, x0:x1].mean() > 0.98:
            return float(x0), float(y0), float(x1 - x0), float(y1 - y0)
    return None


def _is_plain(field: _Field) -> bool:
    return float(np.hypot(*field.lab[1:])) < limits("gilding")["card_chroma"]


def _may_be_grey(field: _Field) -> bool:
    return bool(_DARKEST < field.lab[0] < _LIGHTEST)


def _of_chart(field: _Field, fields: Sequence[_Field]) -> bool:
    return sum(_alike(field, other, _CHART_SIZE) for other in fields) >= _CHART


def _alike(one: _Field, other: _Field, times: float) -> bool:
    return 1.0 / times < one.pixels / other.pixels < times


def _named(cards: Sequence[_Field]) -> Mapping[str, _Field]:
    """The grey card, and beside it a lighter and a darker one of like size."""
    best: dict[str, _Field] = {}
    rank: tuple[float, ...] = ()
    for grey in filter(_may_be_grey, cards):
        found = {"grey": grey}
        for name, brighter in (("white", True), ("black", False)):
            others = [one for one in cards if _alike(one, grey, _LIKE_SIZE)]
            ratios = {one.light / grey.light: one for one in others}
            fit = [r for r in ratios if (r > _TIMES if brighter else r < 1.0 / _TIMES)]
            if fit:
                found[name] = ratios[max(fit) if brighter else min(fit)]
        here = (float(len(found)), -abs(float(grey.lab[0]) - _CARD_L))
        if here > rank:
            best, rank = found, here
    return best


def _box_of(box: Box, scale: float) -> Box:
    x, y, w, h = (round(value / scale) for value in box)
    return float(x), float(y), float(w), float(h)
