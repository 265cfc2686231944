"""What a camera may make of a colour: it does not see as an eye does, and renders to please.

Either error leaves neutrals alone, moves two equal colours alike, and so acts on a difference only
as far as the colours differ.

Raw files are off by how the camera *sees*: a linear error of linear light,
``J Q (red - green, blue - green)``. J is the derivative of Lab by linear ROMM RGB (ISO 22028-2), Q
a random matrix whose second moment was found on simulated cameras.

Pictures in any RGB space are *rendered* as well, be their light linear or not, and rendering is
not linear: hues are turned towards those that people like, chroma is stretched or compressed,
differently for light and dark. Lightness, chroma and hue are each off by a share of the chroma, and
this share is a random wave over hue angle h and lightness L*: the products of
``1, cos h, sin h, cos 2h, sin 2h`` with ``cos L*/l, sin L*/l``, each with its own weight of one
variance, so that the share varies alike everywhere. Its sizes were found on real photographs, and
hold how their cameras see as well.

Sizes and how they were found: ``swatches/budget.toml``.
"""

import numpy as np

from tonematch.arrays import Array, Vector3
from tonematch.measure.colour.convert import lab_by_romm, lab_to_romm
from tonematch.swatchbook import swatch_table


def camera_root(lab: Vector3, rendered: bool) -> Array:
    """From independent standard normal values to the error of Lab by the camera, shape (3, k)."""
    return _rendered(lab) if rendered else _seen(lab)


def _seen(lab: Vector3) -> Array:
    rgb = lab_to_romm(lab)
    common = np.array(swatch_table("budget.toml")["camera"]["common"])
    by_common = np.kron(np.eye(3), np.array([rgb[0] - rgb[1], rgb[2] - rgb[1]]))
    return np.asarray(lab_by_romm(rgb) @ by_common @ square_root(common))


def _rendered(lab: Vector3) -> Array:
    size = swatch_table("budget.toml")["rendering"]
    chroma, h = float(np.hypot(lab[1], lab[2])), float(np.arctan2(lab[2], lab[1]))
    over_hue = np.array([1.0, np.cos(h), np.sin(h), np.cos(2 * h), np.sin(2 * h)]) / np.sqrt(3.0)
    turn = lab[0] / size["length"]
    wave = np.kron([np.cos(turn), np.sin(turn)], over_hue)
    ways = np.zeros((3, 3))  # lightness, outwards, around
    ways[0, 0] = size["lightness"]
    ways[1:, 1] = size["chroma"] * np.array([np.cos(h), np.sin(h)])
    ways[1:, 2] = size["hue"] * np.array([-np.sin(h), np.cos(h)])
    return np.asarray(chroma * np.kron(ways, wave))


def square_root(covariance: Array) -> Array:
    """The symmetric square root of a covariance; what is negative in it counts as 0.

    Being symmetric it is the only one, so that variables shared by two readings mean the same.
    """
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)) @ vectors.T)
