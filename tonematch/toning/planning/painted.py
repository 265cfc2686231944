"""A plan painted on its photograph: the repair as it should look after each layer.

The law of each layer acts on every pixel of the repair by itself, so that the mottle of the piece
stays and changes as the surface does, and a hand lays it a little unevenly; the old gold is left
as it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.appearance.area_picture import edge_to_edge, part_lab, picture_step
from tonematch.measure.area.areas import around, bounds, box_area, filled_part, inside, shown_part
from tonematch.measure.core import Reading
from tonematch.photo.core import Photo
from tonematch.toning.core import Coat, Surface
from tonematch.toning.layers.taking_back import surface_after
from tonematch.toning.model.chain import bared_by_lifts
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.recipes import LayerPredictor

# Longest side of a painted picture in pixels, and the steps of CIELAB in which its colours are laid
# on (what a pixel lies beside its step is carried over): choices of this project, no source.
LONGEST, GRAIN = 900, 1.0
# How unevenly a layer lies, as a share of its amount, in blotches of so large a part of the
# picture: choices of this project, after the demonstration's photographs, no source.
UNEVEN, BLOTCH = 0.03, 0.01


@dataclass(frozen=True, eq=False)
class Scene:
    """A photograph's part around the repair, and the old gold, on the card.

    Attributes
    ----------
    lab : ndarray, shape (h, w, 3)
        CIELAB (D50, 2 degree).
    repair : ndarray of bool, shape (h, w)
        Pixels of the marked repair.
    toned : ndarray of bool, shape (h, w)
        Those, and all that hang together with them and look like them now: the rest of the repair.
    original : ndarray, shape (k, l, 3)
        CIELAB of the old gold's own part, maybe of another photograph.
    """

    lab: Array
    repair: NDArray[np.bool_]
    toned: NDArray[np.bool_]
    original: Array

    @cached_property
    def close(self) -> "Scene":
        """The marked repair alone, and of a polygon a square within it, which is painted sooner."""
        x0, y0, x1, y1 = filled_part(self.repair)
        part = slice(y0, y1), slice(x0, x1)
        return Scene(self.lab[part], self.repair[part], self.toned[part], self.original)

    @property
    def edge_to_edge(self) -> Array:
        """The old gold and the repair beside each other, (h, w, 3)."""
        return edge_to_edge(self.original, self.close.lab)


def scene_of(original: Reading, repair: Reading, old: Photo, new: Photo) -> Scene:
    """The scene of a comparison whose readings carry their calibrations, read from these photos.

    The old gold shows beside the repair where both lie in one.
    """
    shown = [repair.area]
    if original.photo_sha256 == repair.photo_sha256:
        shown.append(original.area)
    part = bounds(box_area("scene", around(new, shown)))
    step = picture_step(part, LONGEST)
    lab = part_lab(new, repair, part, step)
    x, y = np.arange(part[0] + 0.5, part[2], step), np.arange(part[1] + 0.5, part[3], step)
    marked = inside(repair.area, x, y)
    toned = _like_marked(lab, marked, original.lab, repair.lab)
    return Scene(lab, marked, toned, part_lab(old, original, shown_part(original.area), step))


def painted(
    scene: Scene, coats: Sequence[Coat], model: LayerPredictor, surface: Surface
) -> list[Scene]:
    """The scene after each layer of a plan, as the layer model expects it on average."""
    scenes = []
    for coat in coats:
        lab, uneven = scene.lab.copy(), UNEVEN * np.clip(_takes(scene), -3.0, 3.0)
        lab[scene.toned] = _laid(lab[scene.toned], uneven, coat, model, surface)
        scene = replace(scene, lab=lab)
        surface = surface_after(surface, coat.layer, coat.coats)
        scenes.append(scene)
    return scenes


def _like_marked(
    lab: Array, marked: NDArray[np.bool_], old: Array, new: Array
) -> NDArray[np.bool_]:
    """The marked repair and what hangs together with it on the new gold's side of the gap."""
    way = new - old
    if not way.any():
        return marked
    smooth = cv2.GaussianBlur(lab, (0, 0), 2.0) - new
    along = smooth @ way / (way @ way)
    beside = np.linalg.norm(smooth - along[..., None] * way, axis=-1)
    alike = (np.abs(along) < 0.5) & (beside < np.linalg.norm(way))
    _, parts = cv2.connectedComponents((alike | marked).astype(np.uint8), connectivity=4)
    return np.asarray(np.isin(parts, parts[marked]))


def _laid(lab: Array, uneven: Array, coat: Coat, model: LayerPredictor, surface: Surface) -> Array:
    """Colours (n, 3) once a layer lies on them, more or less of it by a share (n,)."""
    grains = np.rint(lab / GRAIN)
    unlike, which = np.unique(grains, axis=0, return_inverse=True)
    before = np.clip(unlike * GRAIN, [1.0, -120.0, -120.0], [100.0, 120.0, 120.0])
    bared = bared_by_lifts(model.predict_layer, lab.mean(axis=0), surface).get(coat.layer)
    under = None if bared is None else bared.lab
    after, more = (
        model.predict_layer(
            coat.layer, Laid.on(before, strength, coat.coats, surface, under), np.zeros((3, 3))
        )[0]
        for strength in (coat.strength, coat.strength * (1.0 + UNEVEN))
    )
    which = which.reshape(-1)
    steeper = (more - after)[which] * (uneven / UNEVEN)[:, None]
    return np.asarray(lab + (after - unlike * GRAIN)[which] + steeper)


def _takes(scene: Scene) -> Array:
    """How much more of a layer each toned pixel takes, (n,); of deviation 1 in the marked repair.

    More where the surface is dark already, for a layer gathers where others did.
    """
    dark = cv2.GaussianBlur(-scene.lab[..., 0], (0, 0), max(1.0, BLOTCH * max(scene.repair.shape)))
    marked = dark[scene.repair]
    return np.asarray((dark[scene.toned] - marked.mean()) / max(float(marked.std()), 1e-6))
