"""Camera profiles: learned from a chart or neutrals, used again where these are missing.

A profile is kept as a JSON file, or is what a kept reading's calibration taught. A camera renders
every picture for itself, so that in another one a share of what was learned is lost.
"""

import json
import math
from dataclasses import asdict, replace
from datetime import date as calendar_date
from pathlib import Path
from typing import Any

import numpy as np

from tonematch.arrays import Array, Vector3
from tonematch.errors import CardError, ValueRefused
from tonematch.measure.calibration.apply import balance_of, light_share, true_light
from tonematch.measure.calibration.chart import Chart, grey_patches, patch_light, patch_place
from tonematch.measure.calibration.colour_correction import fit_correction
from tonematch.measure.calibration.tone import ToneFit
from tonematch.measure.calibration.tone_prior import prior_covariance
from tonematch.measure.core import AS_DECODED, Calibration, CameraProfile, EvenLight, ToneCurve
from tonematch.photo.core import SENSOR, Photo
from tonematch.swatchbook import limits, swatch_table
from tonematch.wholefile import read_whole

_FORMAT = 2

# What profiles of earlier versions lack: they balanced in the file's own space, and did not know
# how far to be trusted.
EARLIER = {"balance": np.eye(3), "spread": 1.0, "tone_covariance": np.zeros((0, 0))}


def profile_from_chart(
    photo: Photo, chart: Chart, tone: ToneFit, even: EvenLight | None
) -> CameraProfile:
    """Learn a camera's colours from a chart: the correction that leaves least in patches left out.

    Raises CardError where too few patches can be read.
    """
    light = patch_light(photo, chart)
    # The black patch is left out of the balance: veiling light is a large share of what it gives.
    greys = [name for name in grey_patches()[:-1] if name in light]
    if len(light) < limits("chart")["fewest_patches"] or not greys:
        raise CardError(
            f"Only {len(light)} patches of the chart can be read: photograph it larger, evenly "
            "lit and without clipping."
        )
    names = list(light)
    seen = true_light(tone.curve, np.array([light[name] for name in names]))
    if even is not None:
        places = np.array([patch_place(chart.patches[name]) for name in names])
        seen = seen / light_share(even, places[:, 0], places[:, 1])
    xyz = np.array([chart.xyz[name] for name in names])
    balance, to_xyz = balance_of(photo)
    seen, wanted = seen @ balance.T, xyz @ np.linalg.inv(to_xyz).T
    on = [names.index(name) for name in greys]
    gains = np.exp(np.log(wanted[on] / seen[on]).mean(axis=0))
    correction = fit_correction(seen * gains, xyz, to_xyz, rendered=photo.space != SENSOR)
    return CameraProfile(
        camera=camera_of(photo),
        lamp="",
        date=taken_on(photo),
        space=photo.space,
        tone=tone.curve,
        tone_covariance=tone.covariance,
        balance=balance,
        gains=gains,
        **vars(correction),
    )


def learned(calibration: Calibration, date: str) -> CameraProfile | None:
    """What a calibration teaches of its camera: colours where it had a chart, else the curve alone.

    None where neither a chart nor neutrals were in its picture.
    """
    if "tone" not in calibration.measured:
        return None
    curve = slice(3, 3 + len(calibration.tone.weights))
    tone, covariance = calibration.tone, calibration.relative_covariance[curve, curve]
    colours = calibration.profile
    if colours is None or colours.camera != calibration.camera:
        return curve_alone(calibration.camera, calibration.space, date, ToneFit(tone, covariance))
    return replace(colours, date=date, tone=tone, tone_covariance=covariance)


def curve_alone(camera: str, space: str, date: str, tone: ToneFit, lamp: str = "") -> CameraProfile:
    """A profile that knows of a camera's tone curve, and nothing of its colours."""
    return CameraProfile(
        camera=camera,
        lamp=lamp,
        date=date,
        space=space,
        balance=np.eye(3),
        degree=0,
        to_xyz=np.eye(3),
        tone=tone.curve,
        tone_covariance=tone.covariance,
        gains=np.ones(3),
        patches=0,
        mean=0.0,
        percentile_95=0.0,
        spread=1.0,
    )


def remembered(profile: CameraProfile, linear: bool) -> CameraProfile:
    """What is left of a profile in a picture of another time and another lamp.

    `linear` tells of a picture that holds a sensor's light, of which next to nothing is lost.
    """
    size = swatch_table("budget.toml")["tone"]
    lost = (size["remembered"] * (size["linear"] if linear else 1.0)) ** 2
    prior = prior_covariance(linear)
    tone, covariance = profile.tone, profile.tone_covariance
    if covariance.shape != prior.shape:  # of an earlier version, which did not know how sure
        tone, covariance = replace(tone, weights=np.zeros(len(prior))), prior
    when = ", ".join(part for part in (profile.camera, profile.date) if part)
    return replace(
        profile,
        tone=replace(tone, words=f"remembered from {when}"),
        tone_covariance=(1.0 - lost) * covariance + lost * prior,
        spread=math.sqrt((1.0 - lost) * profile.spread**2 + lost),
    )


def check_profile(photo: Photo, profile: CameraProfile) -> list[str]:
    """Refuse a profile that is not for this kind of file; else say that it is used.

    Raises CardError where the photo's colour space is not the profile's.
    """
    if profile.space != photo.space:
        raise CardError(
            f"The camera profile is for files in {profile.space}, and '{photo.name}' is in "
            f"{photo.space}: photograph the chart with the settings that you use now."
        )
    what = "Tone curve and colours are" if profile.patches else "The tone curve is"
    when = ", ".join(part for part in (profile.camera, profile.lamp, profile.date) if part)
    said = [f"{what} remembered from an earlier picture ({when})."]
    camera = camera_of(photo)
    # Earlier versions named neither lens nor software.
    if profile.camera and camera and not f"{camera}, ".startswith(f"{profile.camera}, "):
        said.append(
            f"The camera profile was made with {profile.camera} and the picture with {camera}: "
            "photograph chart or neutrals with this camera."
        )
    return said


def check_gains(gains: Vector3, profile: CameraProfile, same_picture: bool) -> list[str]:
    """Whether the card's gains agree with the chart's greys, here or in the picture of the profile.

    Where the chart is in the same picture, they agree in size as well.
    """
    apart = np.log(gains / profile.gains)
    if same_picture:
        worst = float(np.abs(apart).max())
        if worst > limits("chart")["card_apart"]:
            return [
                f"The card and the chart's greys disagree by {100 * worst:.0f} %: check the "
                "card's value, and that the same light falls on both."
            ]
        return []
    worst = float(np.abs(apart - apart[1]).max())
    if worst > limits("chart")["profile_apart"]:
        return [
            f"The card looks {100 * worst:.0f} % more coloured than the chart's greys did when "
            "the camera profile was made: it is another lamp or white balance; photograph the "
            "chart again."
        ]
    return []


def profile_file(profile: CameraProfile) -> bytes:
    """A profile as a JSON file."""
    entry: dict[str, Any] = {"format": _FORMAT, **asdict(profile)}
    text = json.dumps(entry, default=lambda array: np.asarray(array).tolist(), indent=1)
    return f"{text}\n".encode()


def read_profile(path: Path) -> CameraProfile:
    """Take up a kept profile; ValueRefused where there is no such file, or it is none."""
    try:
        content = read_whole(path)
    except OSError as error:
        raise ValueRefused(
            f"The camera profile {path} cannot be read ({error.strerror}): check its name."
        ) from error
    return profile_in(content, path.name)


def profile_in(content: bytes, name: str) -> CameraProfile:
    """The profile that a file of this name holds; ValueRefused where it is none."""
    try:
        return _profile_of(json.loads(content))
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise ValueRefused(
            f"{name} is not a camera profile: photograph the chart and save one anew."
        ) from error


def _profile_of(entry: dict[str, Any]) -> CameraProfile:
    if entry.pop("format") not in (1, _FORMAT):
        raise ValueError("format")
    entry = {**EARLIER, **entry}
    entry.pop("covariance", None)
    tone, tone_covariance = _tone_of(entry.pop("tone"), entry.pop("tone_covariance"))
    arrays = {key: np.array(entry.pop(key), dtype=np.float64)
              for key in ("to_xyz", "gains", "balance")}  # fmt: skip
    profile = CameraProfile(**{**entry, **arrays}, tone=tone, tone_covariance=tone_covariance)
    terms = {0: 3, 1: 3, 2: 6, 3: 13}[profile.degree]
    sound = all(np.isfinite(array).all() for array in arrays.values())
    if not sound or profile.to_xyz.shape != (3, terms) or (profile.gains <= 0).any():
        raise ValueError("shape")
    if profile.balance.shape != (3, 3) or not 0 <= profile.spread < math.inf:
        raise ValueError("shape")
    return profile


def _tone_of(entry: dict[str, Any] | None, covariance: Any) -> tuple[ToneCurve, Array]:
    """A kept curve; earlier versions kept a table of it alone, or nothing."""
    if entry is None:
        return AS_DECODED, np.zeros((0, 0))
    weights = np.array(entry.get("weights", []), dtype=np.float64)
    levels, values = (np.array(entry[key]).reshape(-1, 3) for key in ("levels", "values"))
    anchor = np.array(entry.get("anchor", AS_DECODED.anchor), dtype=np.float64)
    covariance = np.array(covariance, dtype=np.float64).reshape(len(weights), len(weights))
    if levels.shape != values.shape or anchor.shape != (3,):
        raise ValueError("shape")
    return ToneCurve(levels, values, weights, anchor, str(entry["words"])), covariance


def taken_on(photo: Photo) -> str:
    """The day of a picture as the file states it, else today; ISO 8601."""
    return (
        photo.metadata.get("date", "")[:10].replace(":", "-") or calendar_date.today().isoformat()
    )


def camera_of(photo: Photo) -> str:
    """Make and model, lens and software as the file states them; empty where it does not."""
    said = photo.metadata
    body = " ".join(said[key] for key in ("make", "model") if key in said)
    return ", ".join(part for part in (body, said.get("lens"), said.get("software")) if part)
