"""What must hardly move: neutrals under any lamp, and a difference whatever the exposure."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tests.demonstration.camera import colour_matrix
from tests.measure.accuracy import compare_on_card, random_pairs
from tests.measure.simulated_camera import (
    CARD,
    Conditions,
    Patch,
    Scene,
    chart,
    neutral,
    photograph,
    signal_weights,
)
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Reading
from tonematch.measure.reading.reading import read_area
from tonematch.photo.decode import load_photo
from tonematch.photo.profile import colour_space, srgb_profile

FLAT = (0.05, 0.36, 0.8)
"""Reflectances of spectrally flat neutrals that are read on the card of 0.18."""
CHART_GREYS = slice(18, 24)
"""Places of the chart's greys, whose measured spectra are not quite flat."""


def read_on_card(patch: Patch, how: Conditions, seed: int = 4) -> Reading:
    """A patch read on a flat card beside it."""
    scene = Scene([neutral(CARD), patch], 2)
    photo = load_photo(photograph(scene, how, np.random.default_rng(seed)), "simulated")
    card = box_area("card", scene.box(0), "card")
    calibration = calibrate(photo, card, card_from_reflectance(CARD))
    return read_area(photo, box_area("grey", scene.box(1)), calibration)


def neutral_errors(
    camera: str, lamp: str, seed: int = 4
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distances in a*b* of neutrals as read from what they are: flat ones, and a chart's greys."""
    how = Conditions(camera, lamp, exposure=0.8)

    def errors(patches: list[Patch]) -> NDArray[np.float64]:
        apart = [read_on_card(patch, how, seed).lab - patch.lab for patch in patches]
        return np.array([np.hypot(a, b) for _, a, b in apart])

    return errors([neutral(value) for value in FLAT]), errors(chart()[CHART_GREYS])


def spectrum_errors(camera: str, lamp: str) -> NDArray[np.float64]:
    """The same of a chart's greys by their spectra and the camera alone, without a photograph.

    Flat neutrals have none: what is left is that the camera, behind its one matrix, does not
    weigh the spectrum as the standard observer does.
    """
    to_xyz = colour_space(srgb_profile(), 256).to_xyz
    weights = signal_weights(camera, lamp) @ colour_matrix(camera).T
    card = neutral(CARD).mean @ weights
    apart = [
        xyz_to_lab(to_xyz @ (CARD * (patch.mean @ weights) / card)) - patch.lab
        for patch in chart()[CHART_GREYS]
    ]
    return np.array([np.hypot(a, b) for _, a, b in apart])


def exposure_swing(lamp: str, seed: int) -> float:
    """How far a true difference of 3 moves while the exposure goes from half to double."""
    pair = random_pairs(1, np.random.default_rng(seed), 3.0, 0.0)[0]
    how = Conditions(lamp=lamp, quality=None)
    differences = []
    for exposure in (0.2, 0.4, 0.8):
        compared = compare_on_card(pair, replace(how, exposure=exposure), np.random.default_rng(2))
        labs = compared.comparison.original.lab, compared.comparison.repair.lab
        differences.append(float(delta_e_2000(*labs)))
    return float(np.ptp(differences))
