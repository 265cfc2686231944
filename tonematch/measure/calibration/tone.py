"""The tone curve: a wide prior, and what the neutrals in the picture make of it.

The weights of the curve's modes (`tone_prior`) are found from every neutral of known reflectance
as a Gaussian process is conditioned: log(true light beside the card) is linear in them. One
neutral more makes the curve surer where it lies and leaves it as it was elsewhere; the curve that
the file states stands wherever nothing speaks against it. How unsure it stays goes into every
reading: less where neutrals lie as foretold, more where they do not, as in a Student t process.

References
----------
Rasmussen, C. E. and Williams, C. K. I. (2006). Gaussian Processes for Machine Learning, 2.7
(explicit basis functions, here with their prior). Shah, A., Wilson, A. G. and Ghahramani, Z.
(2014). Student-t processes as alternatives to Gaussian processes. AISTATS, PMLR 33, 877-885.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy

from tonematch.arrays import Array, Vector3
from tonematch.measure.area.pixels import MIDDLE_GREY
from tonematch.measure.calibration.aids import Encoding
from tonematch.measure.calibration.apply import start_light
from tonematch.measure.calibration.tone_prior import modes_at, prior_covariance
from tonematch.measure.core import ToneCurve
from tonematch.photo.core import Photo
from tonematch.photo.profile import colour_space, srgb_profile
from tonematch.swatchbook import limits


@dataclass(frozen=True, eq=False)
class Neutral:
    """A neutral of known value in the picture: a card, a step of a grey scale, a grey patch.

    Attributes
    ----------
    light : ndarray, shape (3,)
        Mean of its decoded light.
    wanted : ndarray, shape (3,)
        Linear RGB that its known value stands for, free of the lamp; once the evenness of light
        is known, times the share of it that falls here.
    place : tuple of two float
        Its middle, x and y.
    """

    name: str
    light: Vector3
    wanted: Vector3
    place: tuple[float, float]


@dataclass(frozen=True, eq=False)
class ToneFit:
    """A tone curve and what it is worth.

    Attributes
    ----------
    covariance : ndarray, shape (p, p)
        Of the curve's weights.
    measured : bool
        Whether neutrals or exposures measured it; what is remembered did not.
    """

    curve: ToneCurve
    covariance: Array
    warnings: tuple[str, ...] = ()
    measured: bool = False


@dataclass(frozen=True, eq=False)
class LightRatios:
    """True light beside other true light, whose decoded light is known: it speaks of the curve.

    Attributes
    ----------
    light, beside : ndarray, shape (n, 3)
        Decoded light.
    ratio : ndarray, shape (n, 3)
        True light of the one over that of the other.
    covariance : ndarray, shape (3 n, 3 n)
        Of the logarithms of the ratios.
    """

    light: Array
    beside: Array
    ratio: Array
    covariance: Array


def unseen_curve(photo: Photo, encoding: Encoding, anchor: Vector3) -> ToneFit:
    """The curve before any neutral is read: as the file states, or linear by order.

    Its anchor (3,) is the decoded light of the card.
    """
    told = encoding == "linear"
    levels, values = _linear_by_order(photo) if told else (np.zeros((0, 3)),) * 2
    covariance = prior_covariance(is_linear(photo, encoding))
    words = "linear by order" if told else "as the file says"
    curve = ToneCurve(levels, values, np.zeros(len(covariance)), anchor, words)
    return ToneFit(curve, covariance)


def neutral_ratios(anchor: Neutral, others: Sequence[Neutral]) -> LightRatios:
    """What neutrals say of the curve, each beside the anchor, whose own error they share."""
    limit = limits("tone")
    levels = np.array([grey.wanted.mean() for grey in (anchor, *others)])
    variances = limit["value_sigma"] ** 2 + (limit["flare_sigma"] / levels) ** 2
    common = np.diag(variances[1:]) + variances[0]
    by_channel = np.kron(common, np.ones((3, 3)))
    tints = np.kron(np.eye(len(others)) + 1.0, limit["tint_sigma"] ** 2 * np.eye(3))
    return LightRatios(
        np.array([grey.light for grey in others]),
        np.broadcast_to(anchor.light, (len(others), 3)),
        np.array([grey.wanted / anchor.wanted for grey in others]),
        by_channel + tints,
    )


def conditioned(before: ToneFit, *ratios: LightRatios | None) -> ToneFit:
    """The curve as light of known ratio makes it."""
    known = [one for one in ratios if one is not None]
    if not known:
        return before
    curve, seen = before.curve, _as_it_begins(before.curve, known)
    stated = np.log(seen.ratio) - np.log(seen.light / seen.beside)
    A, foretold, gain = _looked_at(before, seen)
    residual = stated.ravel() - A @ curve.weights
    surprise = float(residual @ np.linalg.solve(foretold, residual))
    scale = _scale(surprise / len(residual), A.shape)
    count = len(stated)
    found = replace(
        curve,
        weights=curve.weights + gain @ residual,
        words=f"{curve.words}, bent to {count} neutral{'s' if count > 1 else ''}",
    )
    warnings = _warnings(stated, seen.ratio, surprise, curve.words)
    return ToneFit(found, scale * _left(before, A, gain), warnings, measured=True)


def foreseen_covariance(before: ToneFit, ratios: LightRatios) -> Array:
    """Covariance of the curve's weights that such ratios would leave, shape (p, p).

    How bent the camera is stays unknown until they are read.
    """
    A, _, gain = _looked_at(before, _as_it_begins(before.curve, [ratios]))
    return _left(before, A, gain)


def _as_it_begins(curve: ToneCurve, known: Sequence[LightRatios]) -> LightRatios:
    """All of them in one, in the light before the curve is bent."""
    light, beside, ratio = (
        np.concatenate([getattr(one, name) for one in known])
        for name in ("light", "beside", "ratio")
    )
    covariance = scipy.linalg.block_diag(*(one.covariance for one in known))
    return LightRatios(start_light(curve, light), start_light(curve, beside), ratio, covariance)


def _looked_at(before: ToneFit, seen: LightRatios) -> tuple[Array, Array, Array]:
    """What n ratios look at, (n, p), their covariance as foretold and the curve's gain by them."""
    prior = before.covariance
    A = (modes_at(seen.light) - modes_at(seen.beside)).reshape(-1, len(prior))
    foretold = A @ prior @ A.T + seen.covariance
    return A, foretold, np.asarray(np.linalg.solve(foretold, A @ prior).T, dtype=np.float64)


def _left(before: ToneFit, A: Array, gain: Array) -> Array:
    covariance = before.covariance - gain @ A @ before.covariance
    return np.asarray((covariance + covariance.T) / 2.0)


def _scale(surprise: float, shape: tuple[int, ...]) -> float:
    """Factor on the curve's covariance: how bent this camera is beside what was foretold.

    `surprise` is the mean square of n whitened residuals, 1 as foretold, and `shape` that of what
    they say of p weights, (n, p): of more than p values the others tell noise.
    """
    told, others = min(shape), limits("tone")["freedom"] - 2.0
    return (others + told * surprise) / (others + told)


def _warnings(stated: Array, ratio: Array, surprise: float, words: str) -> tuple[str, ...]:
    """Whether the neutrals speak against the file, and against one another."""
    said = []
    # dL*/dlog(Y) = 116 / 3 Y^(1/3), ISO/CIE 11664-4, beside a middle grey.
    lightness = 116.0 / 3.0 * np.cbrt(MIDDLE_GREY * ratio.mean(axis=1))
    error = np.abs(stated.mean(axis=1)) * lightness
    if error.max() > limits("tone")["misfit_warned"]:
        claimed = "linear light would" if words.startswith("linear") else "its file says"
        said.append(
            f"The picture keeps light and dark otherwise than {claimed}: on the grey card alone "
            f"a tone would be read up to {error.max():.0f} in L* off. The other greys put it right."
        )
    if scipy.special.chdtrc(stated.size, surprise) < limits("tone")["disagreement"]:
        memory = " or with what is remembered" if words.startswith("remembered") else ""
        said.append(
            f"The cards do not agree with one another{memory}: check what each is known to "
            "reflect, and that all lie in the same light without gloss."
        )
    return tuple(said)


def is_linear(photo: Photo, encoding: Encoding) -> bool:
    """Whether the file holds a sensor's light: raw, told so, or by a profile without a curve."""
    if encoding == "linear":
        return True
    if photo.lut is not None:
        return False
    tables = photo.decoders or ()
    return all(np.abs(table - np.linspace(0.0, 1.0, len(table))).max() < 1e-3 for table in tables)


def _linear_by_order(photo: Photo) -> tuple[Array, Array]:
    """Decoded light and the code values behind it, shape (n, 3) each."""
    tables = photo.decoders
    if photo.lut is not None:  # no channel has a curve of its own: sRGB's stands for it
        tables = colour_space(srgb_profile(), 256).decoders
    if tables is None:
        return np.zeros((0, 3)), np.zeros((0, 3))
    codes = np.linspace(0.0, 1.0, min(len(tables[0]), 1025))
    levels = [np.interp(codes, np.linspace(0, 1, len(table)), table) for table in tables]
    return np.maximum.accumulate(np.stack(levels, axis=-1)), np.stack([codes] * 3, axis=-1)
