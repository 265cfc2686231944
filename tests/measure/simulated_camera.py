"""A camera whose every fault is known, and surfaces whose true CIELAB is known.

Spectra to a file: reflectances (gilding with films on it from ``films.py``, the 24
patches of a chart and neutrals from colour-science), a lamp, light that falls off over the
picture, a sensor with shot and read noise, one phone-like matrix, an encoding and JPEG. Sensor,
matrix and noise are those of ``tests/demonstration/camera.py``. Lab is CIELAB D50, 2 degree.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO

import imagecodecs
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

from tests.demonstration.camera import Shot, develop, encode_srgb
from tests.demonstration.films import FILMS, SMOKE, Film, Surface, lay, new_gold
from tests.demonstration.spectra import (
    WAVELENGTHS,
    Array,
    band_weights,
    chart_reflectance,
    delta_e_2000,
    illuminant,
    lab_d50,
    sensitivity,
)

CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")
DAYLIGHT_OR_LED = ("D50", "D65", "LED-B4", "LED-V2")
LAMPS = ("A", "D50", "D65", "LED-B4", "LED-V2", "FL2", "D65 + A")
"""Names in colour-science; with a plus, both at once, of equal power."""
TONES = ("raw umber wash", "burnt umber wash", "raw umber glaze", "burnt umber glaze",
         "raw sienna wash", "lamp black wash", "rottenstone dust", "dark wax")  # fmt: skip
_ORANGE = 6  # place in the chart
SIDE, EDGE = 96, 12
"""Pixels along a patch, and how many of them at each side stay unmarked."""
CARD = 0.18
"""Stated reflectance of the grey card."""
GREATEST = 6.0
"""Greatest true CIEDE2000 of a pair of like surfaces."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Patch:
    """A flat piece of a surface.

    Attributes
    ----------
    mean : ndarray, shape (36,)
        Mean reflectance of the surface: what its true Lab is for.
    mottle : ndarray, shape (36,)
        Change of the reflectance at one standard deviation of the surface's unevenness.
    grain : float
        Size of the mottle: standard deviation of its blur, pixels.
    """

    mean: Array
    mottle: Array = field(default_factory=lambda: np.zeros(WAVELENGTHS.size))
    grain: float = 3.0

    @property
    def lab(self) -> Array:
        """True Lab of the surface, shape (3,)."""
        return lab_d50(self.mean)


def neutral(reflectance: float) -> Patch:
    """A spectrally flat card."""
    return Patch(np.full(WAVELENGTHS.size, reflectance))


def tinted_neutral(reflectance: float, faults: float, rng: np.random.Generator) -> Patch:
    """A card that is not quite what it says.

    Parameters
    ----------
    reflectance : float
        As stated.
    faults : float
        At 1, deviations of 1 % of its level, and of 5 % in its tilt from violet to red, which
        is about 0.5 in b*.
    rng : numpy.random.Generator
    """
    level, tilt = rng.normal(0.0, faults * np.array([0.01, 0.05]))
    across = np.linspace(-0.5, 0.5, WAVELENGTHS.size)
    return Patch(reflectance * (1 + level) * (1 + tilt * across))


def chart() -> list[Patch]:
    """The 24 patches of the chart that colour-science carries."""
    return [Patch(spectrum) for spectrum in chart_reflectance()]


@dataclass(frozen=True)
class Conditions:
    """How one photograph is taken.

    Attributes
    ----------
    camera, lamp : str
    exposure : float
        What a perfect reflector reaches in linear sRGB; 1.0 is where the picture clips.
    balance : tuple of three float
        The white balance's error, one factor per channel.
    gradient : tuple of two float
        Change of the light across and down, as a share, over the picture's longer side.
    falloff : float
        Light missing in the corners after the camera's own correction of its lens, as a share.
    exponent : float
        Of linear light about the card's, before it is encoded: a contrast that no profile tells.
    gamma : float or None
        Code values are linear sRGB to the power of 1 / gamma; None for sRGB's own curve.
    quality : int or None
        Of the JPEG (4:2:0); None for a PNG of 16 bits.
    warm : float
        What an orange wall or curtain at the right, mirrored in all that lies in the scene's last
        column, adds there: as a share of what a white throws back.
    """

    camera: str = CAMERAS[0]
    lamp: str = "D65"
    exposure: float = 0.7
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    gradient: tuple[float, float] = (0.0, 0.0)
    falloff: float = 0.0
    exponent: float = 1.0
    gamma: float | None = None
    quality: int | None = 92
    warm: float = 0.0


@dataclass(frozen=True, eq=False)
class Scene:
    """Patches side by side in rows, on black.

    Attributes
    ----------
    patches : sequence of Patch
        Row by row.
    columns : int
    """

    patches: Sequence[Patch]
    columns: int

    @property
    def size(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return SIDE * math.ceil(len(self.patches) / self.columns), SIDE * self.columns

    def box(self, index: int) -> Box:
        """The box to mark for a patch: inside its edges."""
        row, column = divmod(index, self.columns)
        inner = SIDE - 2 * EDGE
        return column * SIDE + EDGE, row * SIDE + EDGE, inner, inner


@cache
def lamp_power(name: str) -> Array:
    """Relative power of a lamp or of several at once, shape (401,)."""
    parts = [illuminant(part) for part in name.split(" + ")]
    return np.asarray(sum(part / part.sum() for part in parts))


@cache
def signal_weights(camera: str, lamp: str) -> Array:
    """Weights from a spectrum to the sensor's signals, white balanced, shape (36, 3)."""
    weights = band_weights(lamp_power(lamp)[:, None] * sensitivity(camera))
    return np.asarray(weights / weights.sum(axis=0), dtype=np.float64)


def light_field(size: tuple[int, int], how: Conditions) -> Array:
    """Light that arrives, 1 in the middle, shape (H, W)."""
    height, width = size
    longer = max(size)
    across = (np.arange(width) + 0.5 - width / 2)[None, :] / longer
    down = (np.arange(height) + 0.5 - height / 2)[:, None] / longer
    corner = (height**2 + width**2) / (4 * longer**2)
    slope = 1 + how.gradient[0] * across + how.gradient[1] * down
    return np.asarray(slope * (1 - how.falloff * (across**2 + down**2) / corner))


def photograph(
    scene: Scene, how: Conditions, rng: np.random.Generator, surface: int | None = None
) -> bytes:
    """Take a photograph.

    Parameters
    ----------
    scene : Scene
    how : Conditions
    rng : numpy.random.Generator
        Of the noise, and of the mottle unless `surface` is given.
    surface : int, optional
        Seed of the mottle: photographs of one scene with the same seed show the same places.

    Returns
    -------
    bytes
        A JPEG, or a PNG of 16 bits; without a profile.
    """
    return file_of(developed(scene, how, rng, surface), how)


def developed(
    scene: Scene, how: Conditions, rng: np.random.Generator, surface: int | None = None
) -> Array:
    """Linear sRGB as the camera has it before it encodes a file; as `photograph`."""
    weights = signal_weights(how.camera, how.lamp)
    mottled = rng if surface is None else np.random.default_rng(surface)
    signal = np.zeros((*scene.size, 3))
    for index, patch in enumerate(scene.patches):
        row, column = divmod(index, scene.columns)
        place = np.s_[row * SIDE : (row + 1) * SIDE, column * SIDE : (column + 1) * SIDE]
        signal[place] = patch.mean @ weights
        if patch.mottle.any():
            signal[place] += _mottle(patch.grain, mottled)[..., None] * (patch.mottle @ weights)
    wall = chart_reflectance()[_ORANGE]
    signal[:, -SIDE:] += how.warm * wall / wall.max() @ weights
    shot = Shot(how.camera, "", how.exposure, how.balance)
    light = develop(signal * light_field(scene.size, how)[..., None], shot, rng)
    grey = 0.18 * how.exposure
    return np.asarray(grey * (np.maximum(light, 0.0) / grey) ** how.exponent)


def file_of(light: Array, how: Conditions) -> bytes:
    """Linear sRGB as a file of the stated encoding and quality."""
    code = _encode(light, how.gamma)
    if how.quality is None:
        codes: NDArray[np.uint16] = np.rint(code * 65535).astype(np.uint16)
        return bytes(imagecodecs.png_encode(codes, level=1))
    file = BytesIO()
    picture = Image.fromarray(np.rint(code * 255).astype(np.uint8))
    picture.save(file, format="JPEG", quality=how.quality, subsampling="4:2:0")
    return file.getvalue()


def _mottle(grain: float, rng: np.random.Generator) -> Array:
    """Unevenness of mean 0 and deviation 1 over the surface, of which a patch shows a part."""
    margin = math.ceil(4 * grain)
    white = rng.standard_normal((SIDE + 2 * margin, SIDE + 2 * margin))
    # White noise blurred with a Gaussian of width s keeps 1 / (4 pi s^2) of its variance.
    smooth = gaussian_filter(white, grain) * math.sqrt(4 * math.pi) * grain
    return np.asarray(smooth[margin:-margin, margin:-margin])


def _encode(light: Array, gamma: float | None) -> Array:
    if gamma is None:
        return encode_srgb(light)
    return np.asarray(np.clip(light, 0.0, 1.0) ** (1 / gamma))


def _laid(steps: Sequence[tuple[Film, float]], gaps: float, factor: float = 1.0) -> Array:
    surface: Surface = new_gold("red", gaps)
    for film, amount in steps:
        surface = lay(surface, film, factor * amount)
    return surface.reflectance


def _patch(steps: Sequence[tuple[Film, float]], rng: np.random.Generator, mottling: float) -> Patch:
    """Gilding with layers whose thickness varies from place to place."""
    gaps = rng.uniform(0.005, 0.03)
    spread = mottling * rng.uniform(0.0, 0.25)
    change = (_laid(steps, gaps, 1.05) - _laid(steps, gaps, 0.95)) / 0.1
    return Patch(_laid(steps, gaps), spread * change, rng.uniform(1.0, 4.0))


def random_old(rng: np.random.Generator, mottling: float = 1.0) -> Patch:
    """Old gilding: smoke, dust and wear by chance."""
    steps = [
        (SMOKE, rng.uniform(0.2, 1.0)),
        (FILMS["rottenstone dust"], rng.uniform(0.0, 0.4)),
        (FILMS["rub to bole"], rng.uniform(0.0, 0.3)),
    ]
    return _patch(steps, rng, mottling)


def random_repair(rng: np.random.Generator, mottling: float = 1.0) -> Patch:
    """A repair on its way: sealed, then one or two layers by chance."""
    steps = [(FILMS["clear shellac seal"], 1.0)]
    for name in rng.choice(TONES, size=rng.integers(1, 3), replace=False):
        steps.append((FILMS[name], rng.uniform(0.2, 1.2)))
    return _patch(steps, rng, mottling)


def random_pair(
    rng: np.random.Generator, difference: float | None = None, mottling: float = 1.0
) -> tuple[Patch, Patch]:
    """An original and a repair at a true CIEDE2000 from each other.

    Parameters
    ----------
    rng : numpy.random.Generator
    difference : float, optional
        From 0 to `GREATEST`; by chance in that range unless given. At 0 the two are one surface.
    mottling : float
        0 for flat surfaces, 1 for old gold.
    """
    wanted = rng.uniform(0, GREATEST) if difference is None else difference
    while True:
        old, new = random_old(rng, mottling), random_repair(rng, mottling)
        apart = float(delta_e_2000(old.lab, new.lab))
        if wanted <= apart <= 2 * GREATEST:
            return old, _between(old, new, wanted)


def _between(old: Patch, new: Patch, wanted: float) -> Patch:
    """The mixture of two surfaces that lies `wanted` from the first."""
    shares = np.linspace(0.0, 1.0, 401)
    means = old.mean + shares[:, None] * (new.mean - old.mean)
    apart = np.maximum.accumulate(delta_e_2000(old.lab, lab_d50(means)))
    share = 0.0 if wanted == 0 else float(np.interp(wanted, apart, shares))
    mix = old.mean + share * (new.mean - old.mean)
    mottle = old.mottle + share * (new.mottle - old.mottle)
    return Patch(mix, mottle, new.grain if share else old.grain)
