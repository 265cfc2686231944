"""Reads the real photographs of 24-patch charts and prints how far each is from its reference.

Run it as ``python -m tests.measure.real_photographs``. The photographs lie beside the project in
``../shared/photos`` and are not shipped; their README states where they come from.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tonematch.errors import CardError, ReadingError
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.card import calibrate, card_from_lab
from tonematch.measure.calibration.chart import find_chart
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo

PHOTOS = Path(__file__).resolve().parents[3] / "shared" / "photos"
NO_PHOTOS = "Needs the photographs in ../shared/photos, which are not part of the project."
CARD_PATCH = "neutral 5 (.70 D)"


@dataclass(frozen=True)
class Result:
    """One photograph: CIEDE2000 of each patch that could be read, by name."""

    errors: dict[str, float]
    refused: int

    @property
    def mean(self) -> float:
        return float(np.mean(list(self.errors.values())))


def reference() -> dict[str, NDArray[np.float64]]:
    """CIELAB D50 of the chart: `ColorChecker 2005` in colour-science, xyY under ICC D50."""
    chart = colour.CCS_COLOURCHECKERS["ColorChecker 2005"]
    return {
        name: np.asarray(colour.XYZ_to_Lab(colour.xyY_to_XYZ(xyY), chart.illuminant))
        for name, xyY in chart.data.items()
    }


def boxes(name: str) -> dict[str, tuple[float, float, float, float]]:
    """Boxes of the patches of one photograph."""
    listed = json.loads((PHOTOS / "patches.json").read_text(encoding="utf-8"))
    return {patch: tuple(box) for patch, box in listed[name]["boxes_xywh"].items()}


def photographs() -> list[str]:
    """Names of the photographs; none where the folder is missing."""
    listed = PHOTOS / "patches.json"
    return list(json.loads(listed.read_text(encoding="utf-8"))) if listed.is_file() else []


def as_linear(photo: Photo) -> Photo:
    """The same code values, taken as linear light."""
    levels = np.iinfo(photo.encoded.dtype).max  # type: ignore[type-var]
    ramp = np.linspace(0, 1, levels + 1, dtype=np.float32)
    return replace(photo, decoders=(ramp, ramp, ramp))


def read_chart(name: str, linear: bool = False) -> Result:
    """Read every patch of a photograph with the middle grey as the card."""
    photo = load_photo(PHOTOS / name)
    photo = as_linear(photo) if linear else photo
    places, truth = boxes(name), reference()
    card = box_area(CARD_PATCH, places.pop(CARD_PATCH), "card")
    calibration = calibrate(photo, card, card_from_lab(truth[CARD_PATCH].tolist()))
    errors, refused = {}, 0
    for patch, box in places.items():
        try:
            reading = read_area(photo, box_area(patch, box), calibration)
        except ReadingError:
            refused += 1
        else:
            errors[patch] = float(delta_e_2000(truth[patch], reading.lab))
    return Result(errors, refused)


def read_with_chart(name: str, patches: Sequence[str] | None = None) -> Result:
    """Read patches of a photograph with a calibration on its chart, each without that patch.

    The tone curve, the choice of the correction and its fit all do without the tested patch; the
    middle grey is the card.
    """
    photo = load_photo(PHOTOS / name)
    places, truth = boxes(name), reference()
    card = box_area(CARD_PATCH, places.pop(CARD_PATCH), "card")
    value = card_from_lab(truth[CARD_PATCH].tolist())
    chart = find_chart(photo)
    if chart is None:
        raise CardError(f"No chart is found in {name}.")
    errors, refused = {}, 0
    for patch in patches or places:
        calibration = calibrate(photo, card, value, Aids(chart=chart.without(patch)))
        try:
            reading = read_area(photo, box_area(patch, places[patch]), calibration)
        except ReadingError:
            refused += 1
        else:
            errors[patch] = float(delta_e_2000(truth[patch], reading.lab))
    return Result(errors, refused)


def main() -> None:
    """Print the table."""
    if not photographs():
        sys.exit(NO_PHOTOS)
    print("CIEDE2000 of the patches from the chart's reference\n")
    print("| photograph | calibrated on | patches | refused | mean | greatest |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name in photographs():
        results = {
            "one grey, its profile": read_chart(name),
            "one grey, as linear light": read_chart(name, linear=True),
            "the chart without the patch": read_with_chart(name),
        }
        for words, result in results.items():
            print(
                f"| {name} | {words} | {len(result.errors)} | {result.refused} "
                f"| {result.mean:.2f} | {max(result.errors.values()):.2f} |"
            )


if __name__ == "__main__":
    argparse.ArgumentParser(description=main.__doc__).parse_args()
    main()
