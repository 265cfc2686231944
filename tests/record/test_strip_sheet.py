"""The sheet of test strips: printed whole, and read back from one photograph."""

import re
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.measure.painted import GREY, lab_to_light, photo_of
from tonematch.errors import AreaError, LogbookError, ValueRefused
from tonematch.measure.calibration.card import card_from_reflectance
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.photo.core import Photo
from tonematch.photo.light import linear_light
from tonematch.record.strip_layout import FRAME, PAGE, StripLayout, corners_of
from tonematch.record.strip_reading import read_strips
from tonematch.record.strip_sheet import strip_sheet, write_strip_sheet
from tonematch.toning.core import Strip, Surface
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.planning.ground import Ground

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

SHELF = load_shelf()
SEAL = SHELF["clear shellac seal"]
CARD = card_from_reflectance(0.18)
BARE = Ground(Surface("water", "burnished"))
PER_MM = 4.0
SEEN = np.array([[90.0, 60.0], [820.0, 95.0], [860.0, 1120.0], [50.0, 1090.0]])


def twelve() -> list[Strip]:
    names = ("raw umber wash", "burnt umber glaze", "rottenstone dust")
    return [
        Strip(
            SHELF[names[i % 3]],
            0.25 * (1 + i % 4),
            1 + i % 2,
            (SEAL,) if i % 3 == 0 else (),
            np.array([88.0, 6.0, 35.0]),
            0.1,
        )
        for i in range(12)
    ]


def colours(count: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(11)
    before = np.array([80.0, 5.0, 32.0]) + rng.uniform(-3.0, 3.0, (count, 3))
    return before, before - rng.uniform([5.0, -3.0, 0.0], [25.0, 3.0, 12.0], (count, 3))


def photographed(count: int, tint: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> Photo:
    """A sheet with painted strips, seen at a slant; the lamp is coloured by `tint`."""
    layout = StripLayout(count)
    before, after = colours(count)
    width, height = (round(side * PER_MM) for side in PAGE)
    light = np.full((height, width, 3), 0.5)
    paint = [(layout.card, np.array(GREY))]
    for i in range(count):
        bare, toned = layout.halves(i)
        paint += [(bare, before[i]), (toned, after[i])]
    for (x, y, w, h), lab in paint:
        x0, y0, x1, y1 = (round(v * PER_MM) for v in (x, y, x + w, y + h))
        light[y0:y1, x0:x1] = lab_to_light(lab)
    sheet = np.array(corners_of(FRAME), dtype=np.float32) * PER_MM
    slant = cv2.getPerspectiveTransform(sheet, SEEN.astype(np.float32))
    seen = cv2.warpPerspective(light * 0.8, slant, (900, 1200))
    noise = 1.0 + 0.01 * np.random.default_rng(3).standard_normal(seen.shape)
    return photo_of(seen * np.array(tint) * noise, 16)


@pytest.mark.parametrize("tint", [(1.0, 1.0, 1.0), (1.05, 1.0, 0.85)])
def test_one_photograph_reads_every_strip(tint: tuple[float, float, float]) -> None:
    """Painted colours come back, each to its strip: CIEDE2000 under 0.3.

    Tinted in the file's own channels, in which no lamp acts, they come back a little less near.
    """
    strips = twelve()
    read = read_strips(
        photographed(12, tint), [tuple(c) for c in SEEN], strips, BARE, CARD,
        piece="strips of May", date="2026-05-01",
    )  # fmt: skip
    assert read.refused == ()
    before, after = colours(12)
    got_before = np.array([t.application.before for t in read.trials])
    near = 0.3 if tint == (1.0, 1.0, 1.0) else 0.8
    assert delta_e_2000(got_before, before).max() < near
    assert delta_e_2000(np.array([t.after for t in read.trials]), after).max() < near
    for number, (trial, strip) in enumerate(zip(read.trials, strips, strict=True), start=1):
        laid = trial.application
        assert (laid.layer, laid.strength, laid.coats) == (
            strip.layer.name, strip.strength, strip.coats,
        )  # fmt: skip
        assert (laid.technique, laid.finish) == ("water", "burnished")
        assert (trial.piece, trial.date) == ("strips of May", "2026-05-01")
        assert trial.note.startswith(f"strip {number}, over ")
    # No strip lies on another, as a next step would.
    assert not any(two.follows(one) for one, two in pairwise(read.trials))


def test_a_sheet_photographed_upside_down_reads_the_same() -> None:
    photo = photographed(5)
    turned = photo_of(np.ascontiguousarray(_light(5)[::-1, ::-1]))
    frame = [(900.0 - x, 1200.0 - y) for x, y in SEEN]
    strips = twelve()[:5]
    there = read_strips(photo, [tuple(c) for c in SEEN], strips, BARE, CARD).trials
    back = read_strips(turned, frame, strips, BARE, CARD).trials
    for one, other in zip(there, back, strict=True):
        assert delta_e_2000(one.after, other.after) < 0.3


def test_only_the_strips_that_were_made_are_read() -> None:
    frame = [tuple(c) for c in SEEN]
    read = read_strips(photographed(12), frame, twelve(), BARE, CARD, made=(3, 7))
    assert [trial.note for trial in read.trials] == [
        "strip 3, over bare gold", "strip 7, over clear shellac seal",
    ]  # fmt: skip
    with pytest.raises(ValueRefused, match="no strip 13"):
        read_strips(photographed(12), frame, twelve(), BARE, CARD, made=(13,))


def test_a_strip_that_cannot_be_read_is_named_and_the_others_are_kept() -> None:
    light = _light(12)
    x0, y0 = SEEN[0].astype(int)
    light[y0 : y0 + 200, x0 : x0 + 240] = 1.0  # a reflection over strip 1
    read = read_strips(photo_of(light), [tuple(c) for c in SEEN], twelve(), BARE, CARD)
    assert len(read.trials) == 11
    assert read.trials[0].note.startswith("strip 2,")
    assert len(read.refused) == 1
    assert read.refused[0].startswith("Strip 1 is left out. ")


@pytest.mark.parametrize(
    "frame",
    [
        [(0.0, 0.0), (800.0, 0.0), (800.0, 900.0)],
        [(0.0, 0.0), (800.0, 900.0), (800.0, 0.0), (0.0, 900.0)],
        [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)],
        [(0.0, 0.0), (800.0, 0.0), (800.0, float("nan")), (0.0, 900.0)],
    ],
)
def test_corners_that_are_no_frame_are_refused(frame: list[tuple[float, float]]) -> None:
    with pytest.raises(AreaError, match="four corners are no frame"):
        read_strips(photographed(1), frame, twelve()[:1], BARE, CARD)


@pytest.mark.parametrize("count", [1, 5, 12, 20])
def test_places_lie_inside_the_frame_and_apart(count: int) -> None:
    layout = StripLayout(count)
    places = [layout.card, *layout.strips]
    left, top, width, height = FRAME
    covered = np.zeros((round(PAGE[1] * 4), round(PAGE[0] * 4)), dtype=int)
    for x, y, w, h in places:
        assert left < x and x + w < left + width
        assert top < y and y + h < top + height
        assert w > 40.0 and h > 20.0
        covered[round(y * 4) : round((y + h) * 4), round(x * 4) : round((x + w) * 4)] += 1
    assert covered.max() == 1
    assert len(layout.strips) == count


@pytest.mark.parametrize("count", [0, 21])
def test_too_few_and_too_many_strips_are_refused(count: int) -> None:
    with pytest.raises(ValueRefused, match="1 to 20"):
        StripLayout(count)


def test_sheet_needs_nothing_beside_it_and_says_what_to_lay(tmp_path: Path) -> None:
    out = write_strip_sheet(twelve(), tmp_path / "strips.html", BARE)
    page = out.read_text(encoding="utf-8")
    assert not re.search(r"(src|href)=|https?://|<script", page)
    for strip in twelve():
        assert f"{strip.layer.name}, strength {strip.strength:g}" in page
    assert "clear shellac seal, strength 1" in page
    assert "Coats of shellac partly merge" in page
    assert "15 to 60 minutes" in page
    assert "Local codes" in page
    with pytest.raises(LogbookError, match="exists already"):
        write_strip_sheet(twelve(), out, BARE)
    with pytest.raises(LogbookError, match="cannot be written"):
        write_strip_sheet(twelve(), tmp_path / "none" / "strips.html", BARE)


def test_printed_places_are_those_that_are_read() -> None:
    layout = StripLayout(3)
    page = strip_sheet(twelve()[:3], BARE)
    for x, y, w, h in (layout.card, *layout.halves(0), *layout.halves(2)):
        assert f"left:{x:.2f}mm;top:{y:.2f}mm;width:{w:.2f}mm;height:{h:.2f}mm" in page


def _light(count: int) -> Array:
    """The linear light of `photographed`."""
    photo = photographed(count)
    return linear_light(photo, 0, 0, photo.width, photo.height).astype(np.float64)
