"""Evenness of light: how much of it falls elsewhere in the picture than on the card.

From a picture of a plain sheet in the same light with the camera where it was, from further
cards of the same value, or, as a doubt only, from the card's own gradient: a card that is bent
or leans shows one as well, so it is told and not corrected.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from tonematch.arrays import Array, Vector3
from tonematch.errors import PhotoError
from tonematch.measure.calibration.apply import light_share, true_light
from tonematch.measure.core import BY_MEDIAN, EvenLight, ToneCurve
from tonematch.photo.core import Photo
from tonematch.photo.light import clipped, linear_light
from tonematch.swatchbook import limits, swatch_table

Place = tuple[float, float]
"""Middle of a card, x and y in pixels."""

_BLOCKS = 32
_GRID = (17, 25)
_ORDER = 4
_MOST_READ = 1_000_000
# Share of blocks that a smooth surface must fit: what is left out is dust, not a scene.
_FEWEST_KEPT = 0.95
# Covariance of three channels that change as one, and of what makes a colour of their change.
_ALIKE: Array = np.ones((3, 3))
_TINT: Array = np.eye(3) - 1.0 / 3.0


@dataclass(frozen=True, eq=False)
class LightFit:
    """How the light falls, and how well that is known.

    Attributes
    ----------
    even : EvenLight or None
        None where nothing is known beyond the card.
    covariance : ndarray, shape (6, 6), or (0, 0) where `even` is None
        Of the slopes that may be left: across, then down, each for red, green and blue.
    measured : bool
        Whether the light was measured beyond the card.
    """

    even: EvenLight | None = None
    covariance: Array = field(default_factory=lambda: np.zeros((0, 0)))
    measured: bool = False
    warnings: tuple[str, ...] = ()


def light_from_card(photo: Photo, place: Place, gradient: Array, width: Array) -> LightFit:
    """Nothing but the card: its own gradient says how uneven the light may be.

    Nothing is corrected: the gradient going on over the picture, up to a limit, is one standard
    uncertainty.

    Parameters
    ----------
    gradient : ndarray, shape (2,)
        Change of light over the card, across and down, as a share; 0 where none was seen.
    width : ndarray, shape (2,)
        Width and height of the card in pixels.
    """
    longest = float(max(photo.width, photo.height))
    limit = limits("light")
    slope = gradient / width * longest
    size = float(np.hypot(*slope))
    if size <= limit["usual_slope"]:
        return LightFit()
    # The usual slope is in the budget of every picture; what is seen beyond it comes on top.
    beyond = math.sqrt(min(size, limit["seen_slope_most"]) ** 2 - limit["usual_slope"] ** 2)
    slope = slope * beyond / size
    even = _even(photo, place, np.zeros((2, 3)), None, "taken to be even")
    return LightFit(even, np.asarray(np.kron(np.outer(slope, slope), _ALIKE), dtype=float), False)


def light_from_cards(
    photo: Photo, place: Place, others: Sequence[tuple[Place, Vector3]]
) -> LightFit:
    """Further cards: a plane of light through them all.

    `place` is that of the first; the others have the light there beside that at the first, per
    channel, each freed of what its own value reflects. Slopes are found by Bayes' rule, of the
    strength of the light and of its colour, each by itself: two cut from one card agree in colour
    better than in strength. The prior is the usual slope, or half the greatest change that the
    cards show. Across the line of two cards nothing is measured, and the prior stands.
    """
    limit = limits("light")
    apart = np.array([np.subtract(there, place) for there, _ in others])
    apart = apart / float(max(photo.width, photo.height))
    change = np.array([ratio for _, ratio in others]) - 1.0
    strength = change.mean(axis=1, keepdims=True)
    usual_tint = swatch_table("budget.toml")["light"]["tint"]
    slope, left = _plane(apart, strength, limit["card_sigma"], limit["usual_slope"])
    tint, tint_left = _plane(apart, change - strength, limit["card_tint_sigma"], usual_tint)
    even = _even(photo, place, slope + tint, None, "from further cards")
    covariance = np.kron(left, _ALIKE) + np.kron(tint_left, _TINT)
    return LightFit(even, covariance, True, _told(even, "between the cards", change - strength))


def _plane(apart: Array, change: Array, sigma: float, usual: float) -> tuple[Array, Array]:
    """Slopes across and down by what further cards show, and their covariance, shape (2, 2).

    `apart` has the shape (n, 2), `change` (n, k); `sigma` is the error of one card.
    """
    reach = np.maximum(np.hypot(*apart.T), 0.05)
    prior = max(usual, 0.5 * float((np.abs(change).max(axis=1) / reach).max()))
    variance = 2.0 * sigma**2
    left = np.asarray(np.linalg.inv(apart.T @ apart / variance + np.eye(2) / prior**2), dtype=float)
    return left @ apart.T @ change / variance, left


def light_from_sheet(photo: Photo, place: Place, sheet: Photo, tone: ToneCurve) -> LightFit:
    """A picture of a plain sheet in the same light, taken without moving the camera.

    It is taken to have the photo's tone curve. A smooth surface (polynomial of fourth order of the
    logarithm of light) is laid through medians of blocks, so that grain and dust of the sheet do
    not matter. Raises PhotoError where the sheet's picture has another size than the photo, is
    clipped, dark, or not that of a plain sheet.
    """
    _check_sheet(photo, sheet)
    blocks, x, y = _block_medians(sheet, tone)
    design = _polynomial(x, y)
    logs = np.log(blocks)
    kept = np.ones(len(logs), dtype=bool)
    for _ in range(3):
        found, *_ = np.linalg.lstsq(design[kept], logs[kept], rcond=None)
        left = np.abs(logs - design @ found).max(axis=1)
        kept = left <= 4.0 * BY_MEDIAN * np.median(left) + 1e-6
    rough = float(np.sqrt(np.mean((logs - design @ found)[kept] ** 2)))
    if rough > limits("light")["sheet_rough"] or kept.mean() < _FEWEST_KEPT:
        raise PhotoError(
            f"'{sheet.name}' does not show a plain sheet (it varies by {100 * rough:.0f} %): "
            "photograph a clean sheet of matte paper that fills the picture, in the same light."
        )
    rows, columns = np.meshgrid(np.linspace(0, 1, _GRID[0]), np.linspace(0, 1, _GRID[1]),
                                indexing="ij")  # fmt: skip
    nodes = np.exp(_polynomial(columns.ravel(), rows.ravel()) @ found).reshape(*_GRID, 3)
    flat = _even(photo, place, np.zeros((2, 3)), nodes, "from a plain sheet")
    here = light_share(flat, *np.array(place)[:, None])
    even = _even(photo, place, np.zeros((2, 3)), nodes / here, "from a plain sheet")
    left_over = limits("light")["sheet_sigma"] ** 2 * np.kron(np.eye(2), _ALIKE).astype(float)
    return LightFit(even, left_over, True, _told(even, "over the picture"))


def _even(photo: Photo, place: Place, slope: Array, grid: Array | None, words: str) -> EvenLight:
    return EvenLight(
        origin=np.array(place),
        longest=float(max(photo.width, photo.height)),
        slope=slope,
        grid=grid,
        size=(photo.width, photo.height),
        words=words,
    )


def _told(even: EvenLight, where: str, tint: Array | None = None) -> tuple[str, ...]:
    """What was corrected; `tint` of shape (n, 3) is how the colour of the light differs."""
    w, h = even.size
    corners = light_share(even, np.array([0.0, w, 0.0, w]), np.array([0.0, 0.0, h, h]))
    change = float((corners.max(axis=0) / corners.min(axis=0)).max()) - 1.0
    tinted = 0.0 if tint is None else float(np.ptp(tint, axis=1).max())
    if tinted > limits("light")["tint_told"]:
        return (
            f"The colour of the light changes by {100 * tinted:.0f} % {where}, as beside a "
            "coloured wall or curtain: it was corrected, but take that away or cover it in white.",
        )
    if change < limits("light")["told"]:
        return ()
    return (f"The light changes by {100 * change:.0f} % {where}: it was corrected.",)


def _check_sheet(photo: Photo, sheet: Photo) -> None:
    limit = limits("light")
    if (sheet.width, sheet.height) != (photo.width, photo.height):
        raise PhotoError(
            f"'{sheet.name}' and '{photo.name}' differ in size: photograph the plain sheet with "
            "the same camera where it stands, and crop neither."
        )
    step = _step(sheet)
    whole = (sheet, 0, 0, sheet.width, sheet.height, step)
    if clipped(*whole).mean() > limit["clipped_refused"]:
        raise PhotoError(
            f"The plain sheet in '{sheet.name}' is overexposed: photograph it with less exposure."
        )
    if np.median(linear_light(*whole), axis=(0, 1)).min() < limit["dark_refused"]:
        raise PhotoError(
            f"The plain sheet in '{sheet.name}' is too dark: photograph it with more exposure."
        )


def _step(photo: Photo) -> int:
    return max(1, math.ceil(math.sqrt(photo.width * photo.height / _MOST_READ)))


def _block_medians(sheet: Photo, tone: ToneCurve) -> tuple[Array, Array, Array]:
    """Medians of blocks in true linear light, and their middles as shares of the picture."""
    step = _step(sheet)
    light = linear_light(sheet, 0, 0, sheet.width, sheet.height, step).astype(np.float64)
    h, w = light.shape[:2]
    side = max(1, max(h, w) // _BLOCKS)
    h, w = h // side * side, w // side * side
    blocks = light[:h, :w].reshape(h // side, side, w // side, side, 3)
    middle = np.maximum(np.median(blocks, axis=(1, 3)), 1e-6)
    # The curve rises, so that it may be taken after the median.
    middle = np.maximum(true_light(tone, middle), 1e-6)
    y, x = np.meshgrid(
        (np.arange(h // side) + 0.5) * side * step / sheet.height,
        (np.arange(w // side) + 0.5) * side * step / sheet.width,
        indexing="ij",
    )
    return middle.reshape(-1, 3), x.ravel(), y.ravel()


def _polynomial(x: Array, y: Array) -> Array:
    """Terms of a polynomial in two variables from 0 to 1."""
    u, v = 2.0 * x - 1.0, 2.0 * y - 1.0
    return np.stack(
        [u**i * v**j for i in range(_ORDER + 1) for j in range(_ORDER + 1 - i)], axis=-1
    )
