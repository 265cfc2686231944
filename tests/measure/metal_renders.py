"""Renders of metal with two lobes under a lamp that is moved: invented, their truth known.

A surface is a field of small tilts (relief and ripples of the leaf). Under a lamp whose mirror
direction is met at the tilt h, a point of tilt t reflects

    body * (0.55 + 0.45 exp(-|t - h|^2 / (2 w^2))) + shine * exp(-|t - h|^2 / (2 n^2)),

a wide lobe of width w and a narrow one of width n, as measured gold surfaces and the usual
models of them have (Ward, G. J. (1992). Measuring and modeling anisotropic reflection.
Computer Graphics 26(2), 265-272: a diffuse and a Gaussian lobe). Colours of both lobes come from
gold's optical constants and pigment films (`tests/demonstration/spectra.py`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from tests.demonstration.spectra import bole_reflectance, delta_e_2000, gold_reflectance, lab_d50
from tests.measure.painted import GREY, lab_to_light, photo_of
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.core import Area, Calibration
from tonematch.photo.core import Photo
from tonematch.photo.profile import colour_space, srgb_profile

Floats = NDArray[np.float64]

SIZE = (150, 320)
CARD_BOX, ORIGINAL_BOX, REPAIR_BOX = (8, 40, 60, 60), (84, 30, 100, 90), (204, 30, 100, 90)
CARD = box_area("card", (11, 43, 54, 54), "card")
ORIGINAL = box_area("original", (88, 34, 92, 82), "original")
REPAIR = box_area("repair", (208, 34, 92, 82), "repair")
WIDE = 18.0
"""Width of the wide lobe in degrees of tilt."""
ROUGH = 1.5
"""Deviation of the tilts, degrees."""


@dataclass(frozen=True, eq=False)
class Metal:
    """Colours of the two lobes in linear sRGB, shape (3,), and the narrow one's width, degrees."""

    body: Floats
    shine: Floats
    narrow: float


@dataclass(frozen=True)
class Lamp:
    """Tilt that mirrors the lamp into the camera, degrees, and the lamp's strength."""

    x: float
    y: float
    strength: float = 1.0


def old_gold(smoke: float, worn: float, narrow: float = 4.0, height: float = 3.0) -> Metal:
    """Gilding under a smoky film, partly worn to red bole; `height` is that of the narrow lobe."""
    film = np.exp(-smoke * (730.0 / np.arange(380.0, 731.0, 10.0)) ** 1.5)
    gold = gold_reflectance() * film
    body = 0.5 * (1 - worn) * gold * gold_reflectance() + worn * bole_reflectance("red")
    return Metal(to_light(body), height * to_light(0.5 * gold), narrow)


def to_light(reflectance: Floats) -> Floats:
    """Linear sRGB of a reflectance spectrum, through CIELAB D50."""
    return lab_to_light(lab_d50(reflectance))


def light_to_lab(light: Floats) -> Floats:
    """CIELAB D50 of linear sRGB."""
    return xyz_to_lab(light @ colour_space(srgb_profile(), 65536).to_xyz.T)


def ring(count: int, rng: np.random.Generator, nearest: float = 4.0) -> list[Lamp]:
    """Lamps around the piece: the first `nearest` degrees from the mirror, the last far off."""
    away = np.linspace(nearest, 32.0, count) * rng.uniform(0.95, 1.05, count)
    turn = rng.uniform(0, 2 * np.pi, count)
    strength = rng.uniform(0.7, 1.2, count)
    return [
        Lamp(float(a * np.cos(t)), float(a * np.sin(t)), float(s))
        for a, t, s in zip(away, turn, strength, strict=True)
    ]


def tilts(rng: np.random.Generator, shape: tuple[int, int], grain: float = 2.0) -> Floats:
    """A field of tilts, shape (h, w, 2), degrees."""
    field = gaussian_filter(rng.standard_normal((*shape, 2)), (grain, grain, 0))
    return np.asarray(field * ROUGH / field.std())


def lobes(tilt: Floats, lamp: Lamp, narrow: float) -> tuple[Floats, Floats]:
    """Factors of body and shine, each of shape (h, w)."""
    apart = ((tilt - (lamp.x, lamp.y)) ** 2).sum(axis=-1)
    wide = 0.55 + 0.45 * np.exp(-apart / (2 * WIDE**2))
    return wide, np.exp(-apart / (2 * narrow**2))


def lit(metal: Metal, tilt: Floats, lamp: Lamp) -> Floats:
    """Light of a surface before exposure, shape (h, w, 3)."""
    wide, gleam = lobes(tilt, lamp, metal.narrow)
    return wide[..., None] * metal.body + gleam[..., None] * metal.shine


def photograph(
    original: Floats,
    repair: Floats,
    lamp: Lamp,
    rng: np.random.Generator,
    exposure: float = 0.9,
    shift: tuple[int, int] = (0, 0),
) -> Photo:
    """One 8-bit photograph of card, original and repair; light of both of shape (90, 100, 3)."""
    light = np.full((*SIZE, 3), 0.05)
    weave = 1 + 0.3 * gaussian_filter(np.random.default_rng(1).standard_normal(SIZE), 1.5)
    light *= weave[..., None]
    for (x, y, w, h), content in (
        (CARD_BOX, lab_to_light(np.array(GREY))),
        (ORIGINAL_BOX, original),
        (REPAIR_BOX, repair),
    ):
        light[y : y + h, x : x + w] = content
    light = np.roll(light, shift, axis=(1, 0)) * lamp.strength * exposure
    noise = rng.standard_normal(light.shape) * (0.01 * np.sqrt(np.maximum(light, 0)) + 0.001)
    return photo_of(light + noise, bits=8)


def calibrated(photos: Sequence[Photo], card: Area = CARD) -> list[Calibration]:
    """Each photograph on its own card."""
    return [calibrate(photo, card, card_from_reflectance(0.18)) for photo in photos]


def glinting(light: Floats, share: float, rng: np.random.Generator) -> Floats:
    """Facets that gleam, over a share of a surface, each of a few pixels; shape as `light`."""
    field = gaussian_filter(rng.standard_normal(light.shape[:2]), 1.0)
    facets = field > np.quantile(field, 1 - share)
    gleam = np.where(facets, rng.uniform(0.5, 4.0, light.shape[:2]), 0.0)
    return np.asarray(light * (1 + gleam[..., None]))


def parting_pair(
    metal: Metal, lamps: Sequence[Lamp], flop: float, rng: np.random.Generator
) -> Metal:
    """A metal alike under the first lamp and `flop` CIEDE2000 apart under the last."""
    tilt = tilts(rng, (200, 200))
    face, far = (
        [float(f.mean()) for f in lobes(tilt, lamp, metal.narrow)] for lamp in (lamps[0], lamps[-1])
    )
    away = rng.standard_normal(3) * (1.0, 0.5, 0.8)

    def other(reach: float) -> Metal:
        base = far[0] * metal.body + far[1] * metal.shine
        seen = lab_to_light(light_to_lab(base) + reach * away)
        # far: f0 b + f1 s = seen, face: g0 b + g1 s as it was; solve for body and shine.
        kept = face[0] * metal.body + face[1] * metal.shine
        body, shine = np.linalg.solve(np.array([far, face]), np.stack([seen, kept]))
        return replace(metal, body=body, shine=shine)

    def apart(reach: float) -> float:
        one, two = metal, other(reach)
        labs = [light_to_lab(far[0] * m.body + far[1] * m.shine) for m in (one, two)]
        return float(delta_e_2000(*labs))

    low, high = 0.0, 20.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if apart(middle) < flop else (low, middle)
    return other(high)
