"""The colour correction that a chart allows: none, 3x3 or root-polynomial, and its error.

A correction is linear in the root-polynomial terms of balanced light (degree 1: the light
itself). It is fitted where an eye would look: each patch's residual is weighed by the local
metric of CIEDE2000. A neutral keeps its place, since the card has measured it: that is held
exactly, and takes one degree of freedom from each of X, Y and Z.

References
----------
Finlayson, G. D., Mackiewicz, M. and Hurlbert, A. (2015). Color correction using root-polynomial
regression. IEEE Transactions on Image Processing 24(5), 1460-1470.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.measure.calibration.apply import root_terms
from tonematch.measure.colour.camera_error import camera_root
from tonematch.measure.colour.convert import WHITE, xyz_to_lab
from tonematch.measure.colour.difference import delta_e_2000, local_metric
from tonematch.measure.colour.jacobian import jacobian
from tonematch.measure.core import REACH_95

_DEGREES = (1, 2, 3)
# Pairs of patches that tell what a difference is off by, CIEDE2000, and the error of two means.
_NEAR, _OWN = 25.0, 0.4
# A degree more must leave so much less in the patches that were left out.
_GAIN_NEEDED = 0.97


@dataclass(frozen=True, eq=False)
class Correction:
    """A colour correction and what it leaves, as `CameraProfile` keeps and describes them."""

    degree: int
    to_xyz: Array
    patches: int
    mean: float
    percentile_95: float
    spread: float


def fit_correction(balanced: Array, xyz: Array, file_to_xyz: Matrix3, rendered: bool) -> Correction:
    """Choose and fit the correction: none where no degree does better than the file's own matrix.

    Parameters
    ----------
    balanced, xyz : ndarray, shape (n, 3)
        Balanced light of the patches, and what they are known to be, D50.
    file_to_xyz : ndarray, shape (3, 3)
        The photo's own matrix; with it a neutral is in its place.

    Returns
    -------
    Correction
        Of the degree that leaves least CIEDE2000 in patches left out one by one.
    """
    white = np.asarray(np.linalg.solve(file_to_xyz, WHITE), dtype=np.float64)
    known = xyz_to_lab(xyz)
    rulers = _rulers(known, xyz)
    best, lab = 0, xyz_to_lab(balanced @ file_to_xyz.T)
    score = float(delta_e_2000(known, lab).mean())
    for degree in _DEGREES:
        if root_terms(white, degree).size - 1 > len(balanced) - 4:
            break
        left_out = _left_out(root_terms(balanced, degree), xyz, rulers, root_terms(white, degree))
        found = xyz_to_lab(left_out)
        mean = float(delta_e_2000(known, found).mean())
        if mean < _GAIN_NEEDED * score:
            best, score, lab = degree, mean, found
    to_xyz = file_to_xyz
    if best:
        to_xyz = _fit(root_terms(balanced, best), xyz, rulers, root_terms(white, best))
    errors = delta_e_2000(known, lab)
    return Correction(
        best,
        to_xyz,
        len(balanced),
        float(errors.mean()),
        float(np.quantile(errors, 0.95)),
        left_spread(known, lab, rendered),
    )


def left_spread(known: Array, read: Array, rendered: bool) -> float:
    """How far differences of patches left out are off, beside what a camera may do.

    Parameters
    ----------
    known, read : ndarray, shape (n, 3)
        Lab of the patches, as known and as read with a correction that was fitted without them.

    Returns
    -------
    float
        A factor on the standard deviations of `colour.camera_error` with which the 95 % interval
        holds the known difference of that share of the pairs: the conformal quantile of the
        errors, each in terms of its own standard deviation (split conformal prediction, Vovk,
        Gammerman and Shafer (2005), Algorithmic Learning in a Random World, 2.2).
    """
    one, other = np.triu_indices(len(known), 1)
    true, found = (delta_e_2000(lab[one], lab[other]) for lab in (known, read))
    near = true < _NEAR
    one, other = one[near], other[near]
    roots = np.array([camera_root(lab, rendered) for lab in read])
    apart = read[one] - read[other]
    metric = local_metric((read[one] + read[other]) / 2.0)
    way = np.einsum("nij,nj->ni", metric, apart)
    way /= np.maximum(np.sqrt(np.einsum("ni,ni->n", way, apart)), 1e-9)[:, None]
    sigma = np.linalg.norm(np.einsum("ni,nik->nk", way, roots[one] - roots[other]), axis=1)
    scores = np.sort(np.abs(found - true)[near] / np.hypot(sigma, _OWN))
    if not len(scores):
        return 1.0
    rank = min(math.ceil(0.95 * (len(scores) + 1)), len(scores))
    return float(scores[rank - 1] / REACH_95)


def balanced_for(xyz: Vector3, to_xyz: Array, degree: int, start: Vector3) -> Vector3:
    """Balanced light (3,) that a correction takes to a given XYZ; `start` is a guess at it."""
    if degree == 1:
        return np.asarray(np.linalg.solve(to_xyz, xyz), dtype=np.float64)

    def off(rgb: Array) -> Array:
        return root_terms(rgb, degree) @ to_xyz.T - xyz

    return np.asarray(scipy.optimize.root(off, np.maximum(start, 1e-4)).x)


def _rulers(lab: Array, xyz: Array) -> Array:
    """Matrices that turn a small error of XYZ into one of CIEDE2000's length, shape (n, 3, 3)."""
    roots = np.swapaxes(np.linalg.cholesky(local_metric(lab)), -1, -2)
    return np.asarray(roots @ jacobian(xyz_to_lab, xyz, 1e-5))


def _fit(terms: Array, xyz: Array, rulers: Array, white: Array) -> Array:
    """Matrix from terms to XYZ that keeps the white; least squares in CIEDE2000."""
    m = terms.shape[1]
    fixed = np.outer(WHITE, white) / (white @ white)
    free = np.linalg.svd(white[None, :])[2][1:]  # rows across the white's terms
    reduced = terms @ free.T
    # Row for each patch and each of the ruler's three directions; unknowns: 3 by m - 1.
    design = np.einsum("nij,nk->nijk", rulers, reduced).reshape(-1, 3 * (m - 1))
    target = np.einsum("nij,nj->ni", rulers, xyz - terms @ fixed.T).ravel()
    # The terms are nearly alike in pastel colours: a light ridge keeps their weights apart.
    ridge = np.sqrt(1e-3) * np.eye(design.shape[1])
    found, *_ = np.linalg.lstsq(
        np.vstack([design, ridge]), np.append(target, np.zeros(len(ridge))), rcond=None
    )
    return np.asarray(fixed + found.reshape(3, m - 1) @ free)


def _left_out(terms: Array, xyz: Array, rulers: Array, white: Array) -> Array:
    """XYZ of each patch by a fit to the others."""
    found = np.empty_like(xyz)
    for k in range(len(terms)):
        rest = np.arange(len(terms)) != k
        found[k] = _fit(terms[rest], xyz[rest], rulers[rest], white) @ terms[k]
    return found
