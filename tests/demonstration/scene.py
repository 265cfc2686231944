"""The picture's contents: a rail of a gilded frame, old gold, a repair, three cards.

A rail seen face on, 1600 x 1200 pixels: beads and a hollow above, a flat frieze where the gold
can be read and where the cards lie, a rounded edge below, cloth and canvas beyond. Every pixel
has a material, a thickness factor (mottling), a worn fraction and a shading.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import gaussian_filter

from tests.demonstration.spectra import WAVELENGTHS, Array, step_up

HEIGHT, WIDTH = 1200, 1600
AMOUNTS: Array = np.linspace(0.0, 2.5, 126)
"""Thickness factors at which a material's spectrum is tabulated."""
BEADS, HOLLOW, FRIEZE, EDGE, END = 130, 245, 340, 890, 1050
"""Where the parts of the rail begin, in rows."""
Box = tuple[int, int, int, int]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Material:
    """What a surface is made of.

    Attributes
    ----------
    spectra : ndarray, shape (126, 36)
        Reflectance for each of `AMOUNTS`.
    worn : ndarray, shape (36,)
        Reflectance where it is worn through.
    """

    spectra: Array
    worn: Array


@dataclass(frozen=True, eq=False)
class Scene:
    """Maps of one picture, each of shape (1200, 1600).

    Attributes
    ----------
    materials : tuple of Material
    which : ndarray of int
        Index of each pixel's material.
    amount : ndarray
        Thickness factor, within `AMOUNTS`.
    wear : ndarray
        Fraction worn through, 0 to 1.
    shading : ndarray
        Light that arrives, 1 on the frieze in the middle.
    """

    materials: tuple[Material, ...]
    which: NDArray[np.int_]
    amount: Array
    wear: Array
    shading: Array

    def signal(self, weights: Array) -> Array:
        """What a sensor of `weights`, shape (36, 3), receives: shape (1200, 1600, 3)."""
        out = np.empty((*self.which.shape, 3))
        for index, material in enumerate(self.materials):
            here = self.which == index
            table, worn = material.spectra @ weights, material.worn @ weights
            whole = np.stack(
                [np.interp(self.amount[here], AMOUNTS, column) for column in table.T], axis=-1
            )
            wear = self.wear[here][:, None]
            out[here] = (1 - wear) * whole + wear * worn
        return out * self.shading[..., None]

    def mean_reflectance(self, box: Box) -> Array:
        """Mean reflectance of a box x, y, w, h, shape (36,): what a perfect reading finds."""
        x, y, w, h = box
        part = np.s_[y : y + h, x : x + w]
        total = np.zeros(WAVELENGTHS.size)
        for index, material in enumerate(self.materials):
            here = self.which[part] == index
            whole = 1 - self.wear[part][here]
            place = self.amount[part][here] / AMOUNTS[1]
            low = np.minimum(place.astype(int), AMOUNTS.size - 2)
            share = place - low
            weight = np.bincount(low, whole * (1 - share), AMOUNTS.size)
            weight += np.bincount(low + 1, whole * share, AMOUNTS.size)
            total += weight @ material.spectra + self.wear[part][here].sum() * material.worn
        return total / (w * h)


def blotches(rng: np.random.Generator, *reaches: float) -> Array:
    """A random map of mean 0 and deviation 1, correlated over the given reaches in pixels."""
    field = np.zeros((HEIGHT, WIDTH))
    for reach in reaches:
        # Blur a small map and enlarge it: long reaches would be slow at full size.
        step = max(1, int(reach / 4))
        small = rng.standard_normal((-(-HEIGHT // step) + 8, -(-WIDTH // step) + 8))
        small = gaussian_filter(small, reach / step)
        image = Image.fromarray((small / small.std()).astype(np.float32))
        size = (small.shape[1] * step, small.shape[0] * step)
        large = np.asarray(image.resize(size, Image.Resampling.BICUBIC), dtype=np.float64)
        field += large[4 * step :, 4 * step :][:HEIGHT, :WIDTH]
    field -= field.mean()
    return np.asarray(field / field.std(), dtype=np.float64)


def _plain(reflectance: Array) -> Material:
    return Material(np.broadcast_to(reflectance, (AMOUNTS.size, WAVELENGTHS.size)), reflectance)


CARDS: dict[str, float] = {"card": 0.18, "white card": 0.90, "black card": 0.04}
"""What the grey, the white and the black card reflect, at every wavelength."""


def card(name: str) -> Material:
    """A card: spectrally flat."""
    return _plain(np.full(WAVELENGTHS.size, CARDS[name]))


PAPER = _plain(np.full(WAVELENGTHS.size, 0.78))
INK = _plain(np.full(WAVELENGTHS.size, 0.04))
CLOTH = _plain(np.full(WAVELENGTHS.size, 0.09) + step_up(0.05, 0.0, 560.0, 40.0))
CANVAS = _plain(step_up(0.05, 0.11, 585.0, 30.0))


def rail_shading(rng: np.random.Generator) -> tuple[Array, Array]:
    """Shading of the rail, and its height above the frieze (where wear begins), both (H, W)."""
    row = np.arange(HEIGHT)[:, None].astype(float)
    column = np.arange(WIDTH)[None, :].astype(float)
    shading, raised = np.ones((HEIGHT, WIDTH)), np.zeros((HEIGHT, WIDTH))

    beads = (row >= BEADS) & (row < HOLLOW)
    radius = (HOLLOW - BEADS) / 2
    across = (np.mod(column, 2 * radius) - radius) / radius
    down = (row - (BEADS + HOLLOW) / 2) / radius
    dome = np.sqrt(np.clip(1 - across**2 - down**2, 0.0, 1.0))
    shading = np.where(beads, np.clip(0.22 + 0.74 * dome - 0.20 * down, 0.15, 1.0), shading)
    raised = np.where(beads, dome, raised)

    hollow = (row >= HOLLOW) & (row < FRIEZE)
    depth = np.clip((row - HOLLOW) / (FRIEZE - HOLLOW), 0.0, 1.0)
    shading = np.where(hollow, 0.45 + 0.53 * depth**0.8, shading)

    edge = (row >= EDGE) & (row < END)
    turn = np.clip((row - EDGE) / (END - EDGE), 0.0, 1.0)
    fall = np.clip((turn - 0.12) / 0.88, 0.0, 1.0)
    step = np.where(turn < 0.12, 0.55, 1.0 - 0.75 * fall**2.2)
    shading = np.where(edge, step, shading)
    raised = np.where(edge, np.exp(-(((turn - 0.40) / 0.20) ** 2)), raised)

    beyond = (row < BEADS) | (row >= END)
    weave = 1 + 0.10 * rng.standard_normal((HEIGHT, WIDTH))
    shadow = np.where(row >= END, 0.45 + 0.5 * np.clip((row - END) / 90, 0, 1), 1.0)
    shading = np.where(beyond, gaussian_filter(weave, 0.8) * shadow, shading)
    return np.asarray(gaussian_filter(shading, 1.2)), raised


def light_field(gradient: float, vignetting: float) -> Array:
    """A slight gradient from left to right and the lens's fall-off, 1 in the middle; (H, W)."""
    across = (np.arange(WIDTH)[None, :] - WIDTH / 2) / (WIDTH / 2)
    down = (np.arange(HEIGHT)[:, None] - HEIGHT / 2) / (WIDTH / 2)
    return np.asarray((1 - gradient / 2 * across) * (1 - vignetting * (across**2 + down**2)))


def draw_card(box: Box, words: str) -> tuple[Mask, Mask, Mask, Array]:
    """Masks of a card's field, white border and print, and the shadow round it (H, W)."""
    x, y, w, h = box
    border = 16
    field, paper, ink = (Image.new("1", (WIDTH, HEIGHT)) for _ in range(3))
    ImageDraw.Draw(paper).rectangle((x - border, y - border, x + w + border, y + h + 44), fill=1)
    ImageDraw.Draw(field).rectangle((x, y, x + w, y + h), fill=1)
    font = ImageFont.load_default(22)
    ImageDraw.Draw(ink).text((x + 2, y + h + 8), words, fill=1, font=font)
    inside = np.asarray(paper)
    shadow = gaussian_filter(np.roll(inside, (7, 5), (0, 1)).astype(float), 6.0)
    return np.asarray(field), inside, np.asarray(ink), 1 - 0.45 * np.where(inside, 0.0, shadow)
