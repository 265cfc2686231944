"""Real photographs of 24-patch charts: where the patches lie, and what they are.

The photographs lie beside the project in ``../shared/photos`` and its folder ``phones``, and are
not shipped; READMEs there state where they come from. Truth is the published table that fits the
chart (colour-science; xyY under ICC D50), not a measurement of that very chart. Corners were
checked by eye.

Half of them are held aside from choices: in each folder every second name of the sorted list, from
the second one on. `tint_sigma` in ``swatches/limits.toml`` was chosen on the other half; what was
chosen earlier saw all of them.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.area.areas import box_area, polygon_area
from tonematch.measure.calibration.aids import CARD_ALONE, Aids
from tonematch.measure.calibration.card import calibrate, card_from_lab
from tonematch.measure.calibration.chart import Chart
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.core import Area, Calibration
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo

PHOTOS = Path(__file__).resolve().parents[3] / "shared" / "photos"
NO_PHOTOS = "Needs the photographs in ../shared/photos, which are not part of the project."
FOLDERS = (".", "phones")

CARD = "neutral 5 (.70 D)"
WHITE, N8, N65 = "white 9.5 (.05 D)", "neutral 8 (.23 D)", "neutral 6.5 (.44 D)"
N35, BLACK = "neutral 3.5 (1.05 D)", "black 2 (1.5 D)"
GREYS = (WHITE, N8, N65, N35, BLACK)
"""Neutrals beside the card, lightest first."""

LINEAR = "linear files"
CAMERAS = {"source1_img.png": LINEAR, "target_img.png": LINEAR}
"""Pictures of one camera; sixteen in the folder phones are one as well."""

_INSIDE = 0.6
"""Part of a patch's sides that is read where its corners are known."""


@dataclass(frozen=True, eq=False)
class ChartPhotograph:
    """A photograph of a chart.

    Attributes
    ----------
    half : {"chosen on", "held aside"}
    areas : mapping from patch name to Area
        Well inside each patch.
    xyz : mapping from patch name to ndarray, shape (3,)
        CIE XYZ (D50, 2 degree, Y of white 1).
    lab : mapping from patch name to ndarray, shape (3,)
        The same in CIELAB.
    """

    name: str
    camera: str
    half: str
    photo: Photo
    areas: Mapping[str, Area]
    xyz: Mapping[str, Array]
    lab: Mapping[str, Array]

    def calibration(self, aids: Aids = CARD_ALONE) -> Calibration:
        """Calibrated on the middle grey as the card, and on what else is given."""
        return calibrate(self.photo, self.areas[CARD], card_from_lab(self.lab[CARD].tolist()), aids)

    def neutrals(self, *names: str) -> list[tuple[Area, float]]:
        """Greys of the chart as further neutrals: where they lie and their reflectance."""
        return [(self.areas[name], float(self.xyz[name][1])) for name in names]

    def chart(self, *without: str) -> Chart:
        """The chart less some of its patches."""
        return Chart({k: area for k, area in self.areas.items() if k not in without}, self.xyz)


def chart_photographs(folder: Path = PHOTOS) -> Iterator[ChartPhotograph]:
    """Every photograph there is, one after the other; none where the folder is missing."""
    for part in (folder / name for name in FOLDERS):
        for name in _listed(part):
            yield _opened(part / name)


def chart_photograph(name: str) -> ChartPhotograph:
    """One photograph by its name, such as ``phones/one.jpg``."""
    return _opened(PHOTOS / name)


def are_there() -> bool:
    """Whether the photographs lie beside the project."""
    return bool(_listed(PHOTOS))


def _listed(folder: Path) -> dict[str, Any]:
    listed = folder / "patches.json"
    return dict(json.loads(listed.read_text(encoding="utf-8"))) if listed.is_file() else {}


def _opened(path: Path) -> ChartPhotograph:
    listed = _listed(path.parent)
    entry, aside = listed[path.name], sorted(listed).index(path.name) % 2
    if "boxes_xywh" in entry:
        areas = {patch: box_area(patch, box) for patch, box in entry["boxes_xywh"].items()}
    else:
        areas = {patch: _inner(patch, np.array(xy)) for patch, xy in entry["corners_xy"].items()}
    newer = entry.get("chart") == "after November 2014"
    xyz, lab = _table("ColorChecker24 - After November 2014" if newer else "ColorChecker 2005")
    camera = CAMERAS.get(path.name, "phone" if path.parent.name == "phones" else path.stem)
    half = "held aside" if aside else "chosen on"
    return ChartPhotograph(path.name, camera, half, load_photo(path), areas, xyz, lab)


def _inner(name: str, corners: NDArray[np.float64]) -> Area:
    middle = corners.mean(axis=0)
    inner = middle + _INSIDE * (corners - middle)
    return polygon_area(name, [(float(x), float(y)) for x, y in inner])


@cache
def _table(name: str) -> tuple[dict[str, Array], dict[str, Array]]:
    """XYZ and Lab of a published chart, both for D50."""
    chart = colour.CCS_COLOURCHECKERS[name]
    xyz = {
        patch: np.asarray(colour.xyY_to_XYZ(xyY), dtype=np.float64)
        for patch, xyY in chart.data.items()
    }
    lab = {
        patch: np.asarray(colour.XYZ_to_Lab(value, chart.illuminant), dtype=np.float64)
        for patch, value in xyz.items()
    }
    return xyz, lab
