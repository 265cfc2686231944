"""CIELAB of an area, with what is known about its uncertainty."""

from dataclasses import replace

import numpy as np

from tonematch.errors import HOLDS_LINEAR, ReadingError
from tonematch.measure.area.areas import check_apart
from tonematch.measure.area.noise import covariance_of_mean, part_means
from tonematch.measure.area.pixels import Pixels, area_pixels, plain_pixels
from tonematch.measure.area.rounding import check_border, rounding_covariance
from tonematch.measure.calibration.apply import (
    balanced_light,
    calibrated_xyz,
    lab_by_balanced,
    lab_by_light,
    lab_by_parameters,
)
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.core import Area, Calibration, Reading
from tonematch.measure.reading.checks import (
    check_area_exposure,
    check_left_out,
    check_mirrored,
    check_same_light,
    check_sharp,
)
from tonematch.measure.reading.two_golds import CELLS, check_one_gold
from tonematch.measure.uncertainty.budget import metamerism_covariance, shared_covariance
from tonematch.measure.uncertainty.interval import half_width_95
from tonematch.photo.core import Photo


def read_area(photo: Photo, area: Area, calibration: Calibration) -> Reading:
    """Read an area.

    Parameters
    ----------
    calibration : Calibration
        From a card in the same photo, or in the same light with the same settings.

    Returns
    -------
    Reading
        Mean in linear light of the pixels that are neither glare nor specks (`plain_pixels`),
        converted to Lab (D50, 2 degree) at the end. Its covariance is the sum of the budget's
        causes, in squared units of L*, a*, b*; `own_covariance` is the part that no other
        reading shares: noise and mottle, rounding to the file's steps, metamerism
        (`uncertainty.budget` has the formulae and their sources).

    Raises
    ------
    AreaError
        Where the area reaches outside the picture or overlaps the card.
    ReadingError
        Where it is too small, clipped, too dark, mostly glare, brighter than white, blurred, or
        mirrors the room.
    """
    reading = read_pixels(area_pixels(photo, area), area, calibration)
    said = check_border(photo, area)
    if calibration.photo_sha256 == photo.sha256:
        said += check_sharp(photo, calibration.card, area)
    return replace(reading, warnings=(*reading.warnings, *said))


def read_pixels(pixels: Pixels, area: Area, calibration: Calibration) -> Reading:
    """Read an area from its pixels alone; parameters, errors and result as `read_area`.

    What lies around the area is not looked at, so that nothing is said of blur or bleeding.
    """
    if calibration.photo_sha256 == pixels.photo_sha256:
        check_apart(calibration.card, area)
    warnings = check_area_exposure(area, pixels)
    light = balanced_light(calibration, pixels.light, pixels.x, pixels.y)
    kept = plain_pixels(light, pixels.clipped)
    left_out = len(kept) - int(kept.sum())
    glare = check_left_out(area, left_out / len(kept))
    everywhere = np.stack([pixels.x, pixels.y], axis=-1)
    # Of two golds the brighter one may pass for glare, so that it counts with the rest here.
    used = ~pixels.clipped
    cells = part_means(light[used], everywhere[used], area, CELLS)
    two = check_one_gold(area, xyz_to_lab(calibrated_xyz(calibration, cells)))
    places = everywhere[kept]
    noise = covariance_of_mean(light[kept], pixels.block[kept], places)
    if noise is None:
        raise ReadingError(f"Too little of '{area.name}' can be used: mark a larger area.")
    mirrored = check_mirrored(area, light[kept], pixels.block[kept])
    warnings += two or [*glare, *mirrored]
    mean = light[kept].mean(axis=0)
    raw = pixels.light[kept]
    raw_mean = raw.mean(axis=0)
    place = float(pixels.x[kept].mean()), float(pixels.y[kept].mean())
    rounding = rounding_covariance(pixels, kept, raw)
    S, by_code = lab_by_balanced(calibration, mean), lab_by_light(calibration, raw_mean, place)
    own = S @ noise @ S.T + by_code @ rounding @ by_code.T
    lab = xyz_to_lab(calibrated_xyz(calibration, mean))
    own = own + metamerism_covariance(lab)
    lab_pixels = xyz_to_lab(calibrated_xyz(calibration, light[kept]))
    reading = Reading(
        lab=lab,
        covariance=own,
        own_covariance=own,
        pixels=int(kept.sum()),
        left_out=left_out,
        spread_L=float(lab_pixels[:, 0].std()),
        spread_C=float(np.hypot(lab_pixels[:, 1], lab_pixels[:, 2]).std()),
        area=area,
        photo_sha256=pixels.photo_sha256,
        calibration=calibration,
        by_calibration=lab_by_parameters(calibration, raw_mean, place),
        picture=pixels.picture,
        parts=xyz_to_lab(calibrated_xyz(calibration, part_means(light[kept], places, area))),
    )
    whole = own + shared_covariance(reading)
    doubt = calibration.developed and "tone" not in calibration.measured
    said = check_same_light(area, float(lab[0]), float(half_width_95(whole)[0]), doubt)
    # A dark card has led to this doubt already, and linear light explains both.
    if not any(HOLDS_LINEAR in words for words in calibration.warnings):
        warnings += said
    return replace(reading, covariance=whole, warnings=tuple(warnings))
