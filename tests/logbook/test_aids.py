"""What helped to calibrate is kept, so that a comparison can be done again from the logbook alone.

Photographs by the simulated camera: a chart whose patches touch, which no search finds.
"""

import numpy as np
import pytest

from tests.measure.simulated_camera import (
    SIDE,
    Conditions,
    Scene,
    chart,
    neutral,
    photograph,
    random_pair,
)
from tonematch.logbook.core import KeptReading, Piece
from tonematch.logbook.photo_folder import Where
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.card import card_from_reflectance
from tonematch.measure.calibration.chart import chart_at
from tonematch.measure.core import Area, Comparison, Role
from tonematch.measure.marked import Marked, compare_marked, profile_marked
from tonematch.photo.decode import load_photo

COLUMNS = 6
CHART = [(0.0, 0.0), (6.0 * SIDE, 0.0), (6.0 * SIDE, 4.0 * SIDE), (0.0, 4.0 * SIDE)]
GREY_18 = card_from_reflectance(0.18)


@pytest.fixture(scope="module")
def scene() -> Scene:
    rng = np.random.default_rng(5)
    patches = [*chart(), neutral(0.18), *random_pair(rng, 3.0)[:2], neutral(0.7), neutral(0.05)]
    return Scene([*patches, neutral(0.18)], COLUMNS)


@pytest.fixture(scope="module")
def picture(scene: Scene) -> bytes:
    return photograph(scene, Conditions(lamp="A"), np.random.default_rng(6))


def marked_by(scene: Scene, picture: bytes, aids: Aids) -> Marked:
    roles: tuple[Role, ...] = ("card", "original", "repair")
    areas: dict[str, Area] = {
        role: box_area(role, scene.box(len(chart()) + i), role) for i, role in enumerate(roles)
    }
    return Marked(load_photo(picture, "a.jpg"), areas, aids)


def done_again(logbook: Logbook, kept: KeptReading, other: KeptReading) -> Comparison:
    """The comparison, from what the logbook holds."""
    assert kept.calibration is not None
    assert kept.aids is not None
    photo = load_photo(logbook.photo_bytes(kept.reading.photo_sha256), "a.jpg")
    areas: dict[str, Area] = {"card": kept.calibration.card}
    areas |= {reading.reading.area.role: reading.reading.area for reading in (kept, other)}
    marked = Marked(photo, areas, kept.aids.aids)
    return compare_marked(marked, marked, kept.calibration.value, 2.0)


@pytest.mark.parametrize("how", ["chart", "profile", "neutrals"])
def test_a_comparison_can_be_done_again(
    where: Where, scene: Scene, picture: bytes, how: str
) -> None:
    photo = load_photo(picture, "a.jpg")
    by_chart = Aids(chart=chart_at(photo, CHART))
    neutrals = ((box_area("white", scene.box(27)), 0.7), (box_area("black", scene.box(28)), 0.05))
    helped = {
        "chart": by_chart,
        "profile": Aids(profile=profile_marked(marked_by(scene, picture, by_chart), GREY_18, "A")),
        "neutrals": Aids(neutrals, "profile", cards=(box_area("again", scene.box(29), "card"),)),
    }[how]
    marked = marked_by(scene, picture, helped)
    comparison = compare_marked(marked, marked, GREY_18, 2.0)
    bare = marked_by(scene, picture, Aids())
    # Without its aids it would be another one.
    assert compare_marked(bare, bare, GREY_18, 2.0).interval != comparison.interval
    with open_logbook(where) as logbook:
        logbook.add_piece(Piece("frame"))
        sha256 = logbook.keep_photo(picture, "a.jpg", "frame")
        logbook.keep_comparison("frame", comparison, {sha256: helped})
    with open_logbook(where) as logbook:
        (kept,) = logbook.history("frame").comparisons
        again = done_again(logbook, kept.original, kept.repair)
    assert again.delta_e == comparison.delta_e
    assert again.interval == comparison.interval


def test_a_plain_sheet_is_named_by_its_photograph(
    logbook: Logbook, comparison: Comparison, picture: bytes
) -> None:
    sheet = load_photo(picture, "sheet.jpg")
    logbook.add_piece(Piece("frame"))
    helped = {comparison.original.photo_sha256: Aids(flat_field=sheet, encoding="linear")}
    logbook.keep_comparison("frame", comparison, helped)
    kept = logbook.history("frame").comparisons[0].original.aids
    assert kept is not None
    assert kept.sheet_sha256 == sheet.sha256
    assert kept.aids.flat_field is None
    assert kept.aids.encoding == "linear"


def test_a_reading_without_aids_has_none(logbook: Logbook, comparison: Comparison) -> None:
    logbook.add_piece(Piece("frame"))
    logbook.keep_comparison("frame", comparison, {"another photograph": Aids()})
    (kept,) = logbook.history("frame").comparisons
    assert kept.original.aids is None
