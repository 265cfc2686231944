"""What passes out of the measuring room: areas, calibrations, readings, comparisons.

Every CIELAB value is for illuminant D50 and the CIE 1931 2 degree observer.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.photo.core import SENSOR

ILLUMINANT = "D50"
OBSERVER = "2"
# How a reading is taken to be lit: gold reads otherwise towards the mirror direction.
GEOMETRY = "body colour: lamps at the sides, camera square to the surface"
# Standard deviations from the middle of a normal distribution to the ends of its central 95 %.
REACH_95 = 1.96
# Standard deviation of a normal distribution over its median distance from the middle.
BY_MEDIAN = 1.4826

Role = Literal["card", "original", "repair", "area"]
Verdict = Literal["match", "no match", "too close to call"]


@dataclass(frozen=True)
class Area:
    """A marked region of a photograph.

    Attributes
    ----------
    name : str
        What the person calls it.
    corners : tuple of (x, y)
        Corners of the polygon in pixels of the upright picture, at least three. A box has four.
    role : {"card", "original", "repair", "area"}
    """

    name: str
    corners: tuple[tuple[float, float], ...]
    role: Role = "area"


@dataclass(frozen=True, eq=False)
class CardValue:
    """What the grey card is known to be.

    Attributes
    ----------
    xyz : ndarray, shape (3,)
        CIE XYZ of the card under D50, 2 degree, Y of white 1.
    words : str
        How it was stated: "reflectance 0.18", "L*a*b* 49.5, 0.1, 0.2".
    """

    xyz: Vector3
    words: str


@dataclass(frozen=True, eq=False)
class ToneCurve:
    """Decoded light to true linear light: a start, bent by smooth modes (`calibration.tone_prior`).

    Attributes
    ----------
    levels, values : ndarray, shape (n, 3)
        Decoded light, rising from 0, and the light that the curve starts from; n is 0 where it
        starts from decoded light itself.
    weights : ndarray, shape (p,)
        Of the modes of log(light).
    anchor : ndarray, shape (3,)
        Decoded light of the card, which the curve leaves as it is.
    words : str
        How the curve was found, for the record.
    """

    levels: Array
    values: Array
    weights: Array
    anchor: Vector3
    words: str


AS_DECODED = ToneCurve(
    np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0), np.full(3, 0.18), "as the file says"
)


@dataclass(frozen=True, eq=False)
class EvenLight:
    """How the light falls over the picture, beside the light on the card.

    Attributes
    ----------
    origin : ndarray, shape (2,)
        Middle of the card, x and y in pixels.
    longest : float
        The picture's longer side in pixels.
    slope : ndarray, shape (2, 3)
        Change of light per longer side, across and down, per channel, as a share of that on the
        card.
    grid : ndarray, shape (h, w, 3), or None
        Light as a share, at nodes spread evenly from corner to corner of the picture.
    size : tuple of two int
        Width and height of the picture.
    words : str
        How it was found, for the record.
    """

    origin: Array
    longest: float
    slope: Array
    grid: Array | None
    size: tuple[int, int]
    words: str


@dataclass(frozen=True, eq=False)
class CameraProfile:
    """What a chart or neutrals taught of one camera, to be used again without them.

    Attributes
    ----------
    camera, lamp, date : str
        Make, model, lens and software as the file states them, the lamp in the person's words,
        ISO 8601 date.
    space : str
        The RGB space of the photo, to which alone it applies.
    balance : ndarray, shape (3, 3)
        Linear RGB to the space in which lamps are balanced (`calibration.apply`).
    degree : {0, 1, 2, 3}
        0 leaves the file's own matrix, 1 is a 3x3 matrix, 2 and 3 are root-polynomials.
    to_xyz : ndarray, shape (3, m)
        Root-polynomial terms of balanced light to XYZ D50.
    gains : ndarray, shape (3,)
        With which the chart's greys came out neutral; their proportions tell the lamp.
    patches : int
        Patches that it was fitted to; 0 where neutrals taught the tone curve alone, and what is
        said of colours here stands for nothing.
    tone, tone_covariance : ToneCurve and ndarray, shape (p, p)
        The curve, and the covariance of its weights.
    mean, percentile_95 : float
        CIEDE2000 of patches that were left out of the fit.
    spread : float
        Of what a camera's colours may be off by, the share that is left: differences of patches
        left out in pairs lie within it in 95 % of cases.
    """

    camera: str
    lamp: str
    date: str
    space: str
    balance: Matrix3
    degree: int
    to_xyz: Array
    tone: ToneCurve
    tone_covariance: Array
    gains: Vector3
    patches: int
    mean: float
    percentile_95: float
    spread: float

    @property
    def root_degree(self) -> int:
        """Degree of the expansion that `to_xyz` is for."""
        return max(self.degree, 1)

    @property
    def words(self) -> str:
        """The correction and its error, for the record; the tone curve's where it is all."""
        if not self.patches:
            return f"tone curve {self.tone.words}"
        kinds = ("no correction", "3x3 correction", "root-polynomial correction of degree 2",
                 "root-polynomial correction of degree 3")  # fmt: skip
        return (
            f"{kinds[self.degree]} from {self.patches} patches: CIEDE2000 {self.mean:.1f} on "
            f"average, {self.percentile_95:.1f} at the 95th percentile, in patches left out"
        )


@dataclass(frozen=True, eq=False)
class Calibration:
    """What makes a photo's decoded light agree with the card, and with a chart where it has one.

    In order: tone curve, evenness of light, balance, colour correction (`calibration.apply`).

    Attributes
    ----------
    balance : ndarray, shape (3, 3)
        Linear RGB to the space in which the lamp is balanced.
    gains : ndarray, shape (3,)
        Multiply light in that space by these.
    relative_covariance : ndarray, shape (k, k)
        Covariance of the calibration's parameters: log(gains), three of them, with the noise
        of the card and its unevenness; then the weights of the tone curve; then six slopes of the
        light, where `even` is not None: across, then down, each for red, green and blue. Its errors
        are shared by every area that is read with it (`calibration.apply.lab_by_parameters`).
    to_xyz : ndarray, shape (3, m)
        Balanced light, expanded to m root-polynomial terms, to CIE XYZ D50.
    photo_sha256 : str
        The photo that the card was marked on.
    root_degree : {1, 2, 3}
        Degree of the root-polynomial expansion: m is 3, 6 or 13.
    developed : bool
        Whether its tone curve is unknown, which it is not in raw files and linear light.
    camera, space : str
        What took the photo and the RGB space of its file, by which a camera is known again.
    even : EvenLight or None
        None where the light is taken to be even.
    measured : frozenset of {"tone", "light", "camera"}
        Causes of the uncertainty budget that were measured in this picture: what is left of
        "tone" and "light" is in `relative_covariance`, of "camera" in `profile.spread`.
    profile : CameraProfile or None
        The colour correction, by a chart in this picture or in an earlier one, with the errors
        that it leaves; None where the file's own matrix stands.
    """

    gains: Vector3
    relative_covariance: Matrix3
    to_xyz: Matrix3
    card: Area
    value: CardValue
    warnings: tuple[str, ...] = ()
    photo_sha256: str = ""
    root_degree: int = 1
    balance: Matrix3 = field(default_factory=lambda: np.eye(3))
    tone: ToneCurve = AS_DECODED
    developed: bool = True
    camera: str = ""
    space: str = ""
    even: EvenLight | None = None
    measured: frozenset[str] = frozenset()
    profile: CameraProfile | None = None

    @property
    def rendered(self) -> bool:
        """Whether its colours were made to please: the sensor's own were not."""
        return self.space != SENSOR

    @property
    def corrected(self) -> bool:
        """Whether a chart, here or in an earlier picture, corrected the colours."""
        return self.profile is not None and self.profile.patches > 0


@dataclass(frozen=True, eq=False)
class Reading:
    """CIELAB (D50, 2 degree) of an area, with its uncertainty.

    Attributes
    ----------
    lab : ndarray, shape (3,)
    covariance : ndarray, shape (3, 3)
        Covariance of `lab`: the area's own noise and the calibration's.
    own_covariance : ndarray, shape (3, 3)
        The part of `covariance` that other areas of the same calibration do not share.
    pixels : int
        Pixels that were used.
    left_out : int
        Pixels left out as glare or specks.
    spread_L, spread_C : float
        Standard deviation of L* and of chroma C*ab over the pixels used: evenness.
    calibration : Calibration or None
        What it was read with; None for a reading taken out of the logbook.
    by_calibration : ndarray, shape (3, k), or None
        Derivative of `lab` with respect to the parameters of the calibration, by which an error
        of the calibration reaches all its readings together; None as above.
    picture : tuple of two int, or None
        Width and height of the photo in pixels, against which places in it are told; None as
        above.
    parts : ndarray, shape (6, 6, 3), or None
        `lab` of the area's parts, by a grid over its bounds: nan where a part holds no pixels;
        None as above. Repeats of one area are told from its mottle by them.
    lustre : float or None
        Rise of the gleam over the body in photographic stops (`measure/appearance`); None where it
        was not measured.
    """

    lab: Vector3
    covariance: Matrix3
    own_covariance: Matrix3
    pixels: int
    left_out: int
    spread_L: float
    spread_C: float
    area: Area
    photo_sha256: str
    warnings: tuple[str, ...] = ()
    calibration: Calibration | None = None
    by_calibration: Array | None = None
    picture: tuple[int, int] | None = None
    parts: Array | None = None
    lustre: float | None = None


@dataclass(frozen=True, eq=False)
class Comparison:
    """The difference from an original's reading to a repair's.

    Attributes
    ----------
    delta_e : float
        CIEDE2000, kL = kC = kH = 1.
    interval : tuple of two float
        95 % interval of `delta_e`.
    delta_L, delta_C, delta_h, delta_H : float
        Repair minus original: CIELAB lightness, chroma, hue angle in degrees (-180 to 180) and
        hue difference dH*ab.
    tolerance : float
        The greatest CIEDE2000 that counts as a match.
    verdict : {"match", "no match", "too close to call"}
    words : str
        The difference as a gilder would say it.
    covariance : ndarray, shape (3, 3), or None
        Of the repair's L*, a*, b* minus the original's: what the two readings are wrong by
        together is not in it. None in a logbook from before it was kept.
    """

    delta_e: float
    interval: tuple[float, float]
    delta_L: float
    delta_C: float
    delta_h: float
    delta_H: float
    tolerance: float
    verdict: Verdict
    words: str
    original: Reading
    repair: Reading
    warnings: tuple[str, ...] = ()
    covariance: Matrix3 | None = None

    @property
    def delta_lab(self) -> Vector3:
        """Repair minus original in L*, a*, b*."""
        return self.repair.lab - self.original.lab
