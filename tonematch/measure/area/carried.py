"""Areas of one photograph proposed on the next one of the same place.

What is alike in both is found by its features (SIFT; Lowe 2004), and one homography (RANSAC;
Fischler and Bolles 1981) must carry enough of them: gilding on a flat member is nearly a plane.
Cards are laid anew for each picture, so that nothing upon them or close around them counts.

References
----------
Lowe, D. G. (2004). Distinctive image features from scale-invariant keypoints. International
Journal of Computer Vision 60(2), 91-110.
Fischler, M. A. and Bolles, R. C. (1981). Random sample consensus. Communications of the ACM 24(6),
381-395.
"""

from collections.abc import Iterable, Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array, Matrix3
from tonematch.measure.area.areas import Box, Shape, corners_of
from tonematch.photo.core import Photo
from tonematch.photo.preview import preview

# Choices of this project, tried on the bundled and on real photographs of the tests.
_SEEN = 600  # longest side of the pictures that are compared
_FEATURES = 1500
_DISTINCT = 0.8  # nearest over second nearest feature (Lowe 2004, section 7.1)
_OFF = 3.0  # pixels of the small picture that a feature may lie off
_FEWEST, _SHARE = 25, 0.5  # features that must agree, and as a share of those that were matched
_GREATEST = 3.0  # change of size from picture to picture, as a length
_AROUND_CARD = 0.6  # of a card's sides


def carried_over(
    earlier: Photo, later: Photo, boxes: Mapping[str, Shape], cards: tuple[Iterable[Box], ...] = ()
) -> dict[str, Shape]:
    """Where areas of an earlier photograph lie in a later one.

    Parameters
    ----------
    boxes : mapping from name to Shape
        Pixels of the earlier photograph.
    cards : (iterable of Box, iterable of Box), optional
        Of the earlier and the later photograph: what lies there is not looked at.

    Returns
    -------
    dict from name to Shape
        Pixels of the later photograph: of a box an upright one inside it as it lies now. Empty
        where the two do not show the same place surely; without those that lie outside.
    """
    hidden = cards or ((), ())
    views = [_features(photo, list(of)) for photo, of in zip((earlier, later), hidden, strict=True)]
    at = _homography(*views)
    if at is None:
        return {}
    found = {name: _moved(box, at) for name, box in boxes.items()}
    return {name: box for name, box in found.items() if box is not None and _inside(box, later)}


def _features(photo: Photo, hidden: list[Box]) -> tuple[Array, NDArray[np.float32]]:
    """Places, pixels of the photograph, and what they look like."""
    picture, scale = preview(photo, _SEEN)
    mask = np.full(picture.shape[:2], 255, np.uint8)
    for x, y, w, h in hidden:
        margin = _AROUND_CARD * max(w, h)
        x0, y0 = (max(0, int(scale * (at - margin))) for at in (x, y))
        mask[y0 : int(scale * (y + h + margin)), x0 : int(scale * (x + w + margin))] = 0
    grey = cv2.createCLAHE(2.0, (8, 8)).apply(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY))
    points, told = cv2.SIFT.create(_FEATURES).detectAndCompute(grey, mask)
    places = np.array([point.pt for point in points], dtype=np.float64).reshape(-1, 2)
    return places / scale, np.asarray([] if told is None else told, dtype=np.float32)


def _homography(
    earlier: tuple[Array, NDArray[np.float32]], later: tuple[Array, NDArray[np.float32]]
) -> Matrix3 | None:
    """From the earlier picture to the later; None where too few features agree on it."""
    (places, told), (now, told_now) = earlier, later
    if min(len(places), len(now)) < _FEWEST:
        return None
    pairs = cv2.BFMatcher().knnMatch(told, told_now, k=2)
    good = [one for one, other in pairs if one.distance < _DISTINCT * other.distance]
    if len(good) < _FEWEST:
        return None
    there = now[[match.trainIdx for match in good]]
    here = places[[match.queryIdx for match in good]]
    off = _OFF * np.ptp(now, axis=0).max() / _SEEN
    at, agreeing = cv2.findHomography(here, there, cv2.RANSAC, off)
    if at is None or agreeing.sum() < max(_FEWEST, _SHARE * len(good)):
        return None
    return np.asarray(at, dtype=np.float64)


def _moved(shape: Shape, at: Matrix3) -> Shape | None:
    """A shape carried over, or the upright box inside a box; None where it is turned inside out."""
    corners = np.array([corners_of(shape)], dtype=np.float64)
    moved = cv2.perspectiveTransform(corners, at)[0]
    before, after = (
        cv2.contourArea(of.astype(np.float32), oriented=True) for of in (corners, moved)
    )
    if not _GREATEST**-2 < after / before < _GREATEST**2:
        return None
    if len(shape) > 4:
        return tuple(moved.round().ravel().tolist())
    (_, x0, x1, _), (_, y0, y1, _) = np.sort(moved, axis=0).T
    if min(x1 - x0, y1 - y0) <= 1.0:
        return None
    return float(round(x0)), float(round(y0)), float(round(x1 - x0)), float(round(y1 - y0))


def _inside(shape: Shape, photo: Photo) -> bool:
    x, y = np.array(corners_of(shape)).T
    return bool(min(x.min(), y.min()) >= 0 and x.max() <= photo.width and y.max() <= photo.height)
