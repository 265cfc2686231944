"""Patches that a gold breaks up in: how large, how dark, over how much of it.

A patch is as wide as two correlation lengths. Discs of one diameter d, strewn at random, have the
autocorrelation of the overlap of two discs, (2 / pi) (acos u - u sqrt(1 - u^2)) with u = r / d
(Matheron 1975, its geometric covariogram), which falls to 1/e at 0.52 d; a Gaussian field of
length l crosses its mean every 2.2 l along a line (Rice 1945). Noise of the camera, which
neighbouring cells do not share, counts for neither.

References
----------
Matheron, G. (1975). Random sets and integral geometry. Wiley.
Rice, S. O. (1945). Mathematical analysis of random noise. Bell System Technical Journal 24,
46-156.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from tonematch.measure.appearance.cells import Cells
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.reading.two_golds import split_in_two
from tonematch.measure.words import difference_parts, join_words
from tonematch.swatchbook import limits

# Beside noise of each cell, the surface's own share of the variance that patches are read from;
# JPEG's blocks give noise up to a third.
_LEAST_OWN = 0.4


@dataclass(frozen=True, eq=False)
class Patches:
    """Darker patches on clear gold.

    Attributes
    ----------
    across : float
        Width of a patch as a share of the area's, the side of a square as large.
    across_mm : float or None
        The same in millimetres, where the scale of the photograph is known.
    dark : float
        Share of the area that they cover.
    delta_e : float
        CIEDE2000 between the means of the patches and of the gold between them.
    delta_L, delta_C : float
        Patches less clear gold, in L* and in chroma C*ab.
    look : str
        How the patches look beside the clear gold: "darker and redder".
    """

    across: float
    across_mm: float | None
    dark: float
    delta_e: float
    delta_L: float
    delta_C: float
    look: str


def patches_of(cells: Cells, mm_per_cell: float | None) -> Patches | None:
    """Patches that can be seen in an area; None where there are none, or only noise.

    Cells are smoothed over half a correlation length, parted in two along their main direction
    in CIELAB, and the parts' colours read from the cells as they are.
    """
    if cells.own < _LEAST_OWN:
        return None
    weight = cells.used.astype(np.float64)
    sigma = max(cells.length / 2.0, 0.3)
    smooth = cv2.GaussianBlur(cells.lab * weight[..., None], (0, 0), sigma)
    near = cv2.GaussianBlur(weight, (0, 0), sigma)[cells.used]
    second, _ = split_in_two(np.asarray(smooth[cells.used] / near[:, None], dtype=np.float64))
    lab = cells.lab[cells.used]
    parts = lab[second], lab[~second]
    dark, clear = sorted(parts, key=lambda part: float(part[:, 0].mean()))
    patch, between = dark.mean(axis=0), clear.mean(axis=0)
    delta_e = float(delta_e_2000(between, patch))
    # Parts lie on both sides of the mean, each half as far from it as from the other.
    if delta_e < 2.0 * limits("evenness")["seen_mottle"]:
        return None
    return Patches(
        across=2.0 * cells.length / math.sqrt(len(lab)),
        across_mm=None if mm_per_cell is None else 2.0 * cells.length * mm_per_cell,
        dark=len(dark) / len(lab),
        delta_e=delta_e,
        delta_L=float(patch[0] - between[0]),
        delta_C=float(np.hypot(*patch[1:]) - np.hypot(*between[1:])),
        look=join_words([part.word for part in difference_parts(between, patch)]),
    )
