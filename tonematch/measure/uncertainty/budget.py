"""The uncertainty budget: every cause of error of a reading, and what two readings share.

==========  ==============================================  ======================
cause       what it is                                      shared by
==========  ==============================================  ======================
area        noise of the pixels and unevenness of the        nobody
            surface, with its correlation from place to
            place (`noise.covariance_of_mean`); rounding
            to whole code values; metamerism: two spectra
            of one colour may read apart
card        noise and unevenness of the card, whatever       one calibration
            else the calibration's parameters are unsure of
light       change of the light between card and area        one photograph
tone        the tone curve departs from what is stated or    one camera; a part
            found (`calibration.tone_prior`)                 is each picture's
camera      the camera does not see as the standard          one camera and lamp
            observer does, and renders to please
            (`colour.camera_error`)
==========  ==============================================  ======================

Each is a matrix (its root) from independent standard normal variables z to an error of Lab, in
units of L*, a*, b* (D50, 2 degree):

=======  =============================================  ==========================
cause    error of Lab                                   evaluated, JCGM 100
=======  =============================================  ==========================
area     root of S V S' + rounding + G m G', times z    A, 4.2; B, 4.3.7; B, 4.3
card     D root(C) z                                    A, 4.2; gradient B, 4.3.7
light    J r (g (dx z1 + dy z2) + f dq z3)              B, 4.3
         + G k (dx z4 + dy z5), one for red, for blue
tone     D root(T) z                                    B, 4.3; A, 4.2
camera   s K z                                          B, 4.3; A, 4.2
=======  =============================================  ==========================

r is the colour in linear ROMM RGB (ISO 22028-2), J the derivative of Lab with respect to it and
G = J diag(r); S is that with respect to balanced light, D that with respect to the calibration's
parameters. V is the covariance of the mean over correlated pixels; C that of the parameters:
logarithms of the gains by the card's block means, with a uniform distribution as wide as the
light changes over the card, and what is left in doubt of a slope of light; T that of the tone
curve's weights, as wide as the prior where nothing but the card is known. m (`camera.surface`) is
the second moment of shares of light; g, f and k (`light.gradient`, `light.falloff`, `light.tint`)
are shares of light, dx and dy the way from card to area in parts of the picture's longer side, dq
the difference of their squared distances from the picture's middle, that of a corner being 1. K
is what a camera may make of a colour, and s the share of it that a chart leaves
(`calibration.colour_correction.left_spread`), 1 without one. What the card is known to be is
taken as stated.

Causes that two readings share act on both with the same variables, which is why a difference is
known better than either colour: the tone curve and the camera move two equal colours alike, and
act on a difference only in proportion to it. The curve's doubt is of true light over decoded light,
so in proportion to what is read; what a camera makes of a colour is in proportion to what it truly
is. So an interval stays narrow near a match, however
unsure the curve is: a slope of light that is off by a tenth makes 0.1 of a difference of 1. The
sizes of light, tone and camera are data, with how they were found: ``swatches/budget.toml``. A flat
field takes the place of what is taken for granted of the light. Repeats of a photograph tell noise
from mottle, and what no cause here explains (`measure.repeats`).

References
----------
JCGM 100:2008, Guide to the expression of uncertainty in measurement, 4.2 (type A) and 4.3 (B).
JCGM 101:2008, Propagation of distributions using a Monte Carlo method, 5.3 and 6.4.8.
JCGM 102:2011, Extension to any number of output quantities (shared inputs), 5.3.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.calibration.tone_prior import modes_at, prior_covariance
from tonematch.measure.colour.camera_error import camera_root, square_root
from tonematch.measure.colour.convert import lab_by_romm, lab_to_romm
from tonematch.measure.core import Area, Reading
from tonematch.measure.uncertainty.interval import NoisyDifference, noisy_difference
from tonematch.swatchbook import swatch_table


@dataclass(frozen=True, eq=False)
class Cause:
    """One cause of error of a reading.

    Attributes
    ----------
    name : {"area", "noise", "card", "light", "tone", "camera", "rest"}
        "noise" is a part of "area" that repeats told apart.
    root : ndarray, shape (3, k)
        The error of Lab is ``root @ z`` with z of k independent standard normal values; in
        units of L*, a*, b*.
    shared : str
        Causes of two readings with the same word here have the same z; "" is shared with none.
    grows : {"", "read", "true"}
        Whether two equal colours would be moved alike, so that it acts on a difference only in
        proportion to it: as it is read, or as it truly is.
    """

    name: str
    root: Array
    shared: str = ""
    grows: Literal["", "read", "true"] = ""

    @property
    def covariance(self) -> Matrix3:
        """What the cause adds to the covariance of Lab, shape (3, 3)."""
        return np.asarray(self.root @ self.root.T)


def causes(reading: Reading) -> tuple[Cause, ...]:
    """Every cause of error of a reading.

    One without its calibration, such as out of an old logbook, has what its covariance holds beyond
    the causes known from its colour as "rest", shared with none.
    """
    found = [Cause("area", square_root(reading.own_covariance))]
    found += _causes_by_colour(reading)
    if reading.calibration is None or reading.by_calibration is None or reading.picture is None:
        known = sum((cause.covariance for cause in found), np.zeros((3, 3)))
        return (*found, Cause("rest", square_root(reading.covariance - known)))
    calibration = reading.calibration
    by, covariance = reading.by_calibration, calibration.relative_covariance
    p = len(calibration.tone.weights)
    curve = slice(3, 3 + p)
    if p:
        tone = by[:, curve] @ square_root(covariance[curve, curve])
        found.append(Cause("tone", tone, f"tone {p}", grows="read"))
    rest = np.r_[0 : curve.start, curve.stop : len(covariance)]
    card = by[:, rest] @ square_root(covariance[np.ix_(rest, rest)])
    places = ",".join(f"{x:g} {y:g}" for x, y in calibration.card.corners)
    found.append(Cause("card", card, f"card {calibration.photo_sha256} {places}"))
    if "light" not in calibration.measured:
        found.append(_light_cause(reading, calibration.card, reading.picture))
    return tuple(found)


def shared_covariance(reading: Reading) -> Matrix3:
    """Covariance of Lab by all causes but the area's own, shape (3, 3).

    They are independent of one another, so it is their sum (JCGM 100:2008, 5.1.2).
    """
    return sum((cause.covariance for cause in causes(reading)[1:]), np.zeros((3, 3)))


def metamerism_covariance(lab: Vector3) -> Matrix3:
    """Covariance of Lab by metamerism, shape (3, 3); it is part of an area's own.

    It is G m G', with G as above and m the second moment of the shares of linear ROMM RGB by which
    surfaces of one colour read apart: ``surface`` in ``swatches/budget.toml``, which
    ``tests/demonstration/camera_error.py`` finds.
    """
    rgb = lab_to_romm(lab)
    G = lab_by_romm(rgb) * rgb
    return np.asarray(G @ np.array(swatch_table("budget.toml")["camera"]["surface"]) @ G.T)


def _causes_by_colour(reading: Reading) -> list[Cause]:
    """The camera's colours, and for readings of earlier versions the tone curve."""
    calibration = reading.calibration
    profile = None if calibration is None else calibration.profile
    rendered = calibration is None or calibration.rendered
    camera = (1.0 if profile is None else profile.spread) * camera_root(reading.lab, rendered)
    found = [Cause("camera", camera, "camera", grows="true")]
    if calibration is None or not (len(calibration.tone.weights) or "tone" in calibration.measured):
        found.append(_usual_tone(reading.lab))
    return found


def _usual_tone(lab: Vector3) -> Cause:
    """The tone curve of a reading of which only the colour is known."""
    rgb = lab_to_romm(lab)
    bend = modes_at(rgb) - modes_at(usual_card().xyz)
    root = lab_by_romm(rgb) @ (rgb[:, None] * bend) @ square_root(prior_covariance(linear=False))
    return Cause("tone", root, f"tone {root.shape[1]}", grows="read")


def _light_cause(reading: Reading, card: Area, picture: tuple[int, int]) -> Cause:
    """Light that changes over the picture: slopes of strength and colour, a fall to the corners."""
    size = swatch_table("budget.toml")["light"]
    there, here = _place(reading.area, picture), _place(card, picture)
    corner = np.square(picture).sum() / (4.0 * max(picture) ** 2)
    shares = np.append(
        size["gradient"] * (there - here), size["falloff"] * (there @ there - here @ here) / corner
    )
    G = lab_by_romm(rgb := lab_to_romm(reading.lab)) * rgb
    tint = np.kron(G[:, [0, 2]], size["tint"] * (there - here))
    root = np.column_stack([np.outer(G.sum(axis=1), shares), tint])
    return Cause("light", root, f"light {reading.photo_sha256}")


def _place(area: Area, picture: tuple[int, int]) -> Array:
    """Middle of an area from the middle of the picture, in parts of its longer side."""
    return np.asarray((np.mean(area.corners, axis=0) - np.array(picture) / 2.0) / max(picture))


@dataclass(frozen=True, eq=False)
class Errors:
    """Errors of Lab of several readings, drawn together.

    Attributes
    ----------
    by_cause : mapping of str to ndarray, shape (m, n, 3)
        By each cause's name, of m readings in n cases; in units of L*, a*, b*.
    growing : ndarray, shape (2, m, n, 3)
        The parts of them from causes that grow with a difference as read, and as it truly is.
    """

    by_cause: Mapping[str, Array]
    growing: Array

    @property
    def whole(self) -> Array:
        """Sum over the causes, shape (m, n, 3)."""
        return np.asarray(sum(self.by_cause.values(), np.zeros_like(self.growing[0])))


def draw_errors(budgets: Sequence[Sequence[Cause]], cases: int, seed: int) -> Errors:
    """Draw errors of several readings, a budget for each; JCGM 101:2008, 6.4.8.

    Causes with one word of sharing get the same variables everywhere.
    """
    random = np.random.default_rng(seed)
    drawn: dict[str, Array] = {}
    by_cause: dict[str, Array] = {}
    growing = np.zeros((2, len(budgets), cases, 3))
    for row, budget in enumerate(budgets):
        for cause in budget:
            if cause.shared not in drawn or not cause.shared:
                drawn[cause.shared] = random.standard_normal((cases, cause.root.shape[1]))
            z = drawn[cause.shared]
            error = z @ cause.root.T
            by_cause.setdefault(cause.name, np.zeros_like(growing[0]))[row] += error
            if cause.grows:
                growing[("read", "true").index(cause.grows), row] += error
    return Errors(by_cause, growing)


def drawn_difference(original: Reading, repair: Reading, errors: Errors) -> NoisyDifference:
    """CIEDE2000 of two readings whose errors were drawn."""
    by_read, by_true = errors.growing[:, 1] - errors.growing[:, 0]
    noise1, noise2 = errors.whole
    return noisy_difference(original.lab, repair.lab, noise1, noise2, by_read, by_true)


def shared_as(budget: Sequence[Cause], words: Mapping[str, str]) -> tuple[Cause, ...]:
    """A budget of which some causes, by name, are shared by another word."""
    return tuple(replace(cause, shared=words.get(cause.name, cause.shared)) for cause in budget)
