"""The sheet of test strips: printed whole, and read back from one photograph."""

import re
from itertools import pairwise

import cv2
import numpy as np
import pytest

from tests.measure.painted import GREY, lab_to_light, photo_of
from tonematch.errors import AreaError, ValueRefused
from tonematch.measure.area.areas import corners_of
from tonematch.measure.calibration.card import card_from_reflectance
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.photo.core import Photo
from tonematch.photo.light import linear_light
from tonematch.record.strip_layout import FRAME, PAGE, Rectangle, StripLayout
from tonematch.record.strip_reading import read_strips
from tonematch.record.strip_sheet import strip_sheet
from tonematch.toning.core import Coat, Strip, Surface
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.layers.mix import USUAL_POT, say_pot
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.planning.ground import Ground

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

SHELF = load_shelf()
SEAL = SHELF["clear shellac seal"]
CARD = card_from_reflectance(0.18)
BARE = Ground(Surface("water", "burnished"))
STACK = Strip((Coat(SEAL, 1.0), Coat(SHELF["raw umber wash"], 0.5), Coat(SEAL, 0.5, 2)))
PER_MM = 4.0
SEEN = np.array([[90.0, 60.0], [820.0, 95.0], [860.0, 1120.0], [50.0, 1090.0]])


def twelve() -> list[Strip]:
    names = ("raw umber wash", "burnt umber glaze", "rottenstone dust")
    return [
        Strip(
            (Coat(SHELF[names[i % 3]], 0.25 * (1 + i % 4), 1 + i % 2),),
            (SEAL,) if i % 3 == 0 else (),
        )
        for i in range(12)
    ]


def colours(count: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(11)
    before = np.array([80.0, 5.0, 32.0]) + rng.uniform(-3.0, 3.0, (count, 3))
    return before, before - rng.uniform([5.0, -3.0, 0.0], [25.0, 3.0, 12.0], (count, 3))


def photographed(count: int, tint: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> Photo:
    """A sheet with painted strips, seen at a slant; the lamp is coloured by `tint`."""
    layout = StripLayout((1,) * count)
    before, after = colours(count)
    paint = [(layout.card, np.array(GREY))]
    for i in range(count):
        paint += list(zip(layout.fields(i), (before[i], after[i]), strict=True))
    return photo_of(seen_sheet(paint) * np.array(tint), 16)


def seen_sheet(paint: list[tuple[Rectangle, Array]]) -> Array:
    """The light of a sheet with these places painted, seen at a slant."""
    width, height = (round(side * PER_MM) for side in PAGE)
    light = np.full((height, width, 3), 0.5)
    for (x, y, w, h), lab in paint:
        x0, y0, x1, y1 = (round(v * PER_MM) for v in (x, y, x + w, y + h))
        light[y0:y1, x0:x1] = lab_to_light(lab)
    sheet = np.array(corners_of(FRAME), dtype=np.float32) * PER_MM
    slant = cv2.getPerspectiveTransform(sheet, SEEN.astype(np.float32))
    seen = cv2.warpPerspective(light * 0.8, slant, (900, 1200))
    return np.asarray(seen * (1.0 + 0.01 * np.random.default_rng(3).standard_normal(seen.shape)))


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
        laid, (coat,) = trial.application, strip.steps
        assert (laid.layer, laid.strength, laid.coats) == (
            coat.layer.name, coat.strength, coat.coats,
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


def test_a_stack_is_read_after_every_layer_as_a_chain() -> None:
    """Each photograph shows every step so far: field k bears the first k layers, and no more."""
    strips = [STACK, *twelve()[1:3]]
    layout = StripLayout.of(strips)
    steps = np.linspace([88.0, 6.0, 35.0], [70.0, 8.0, 27.0], 4)
    laid = 0
    read = []
    for layer in (1, 2, 3):
        laid = layer
        paint = [(field, steps[min(n, laid)]) for n, field in enumerate(layout.fields(0))]
        paint += [
            (field, steps[n]) for strip in (1, 2) for n, field in enumerate(layout.fields(strip))
        ]
        photo = photo_of(seen_sheet([(layout.card, np.array(GREY)), *paint]), 16)
        frame = [tuple(c) for c in SEEN]
        read.append(
            read_strips(photo, frame, strips, BARE, CARD, piece="S", layers=(layer,)).trials
        )
    assert [len(trials) for trials in read] == [3, 1, 1]
    chain = [trials[0] for trials in read]
    for number, trial in enumerate(chain, start=1):
        assert (trial.piece, trial.step) == ("S, strip 1", number)
        assert delta_e_2000(trial.application.before, steps[number - 1]) < 0.3
        assert delta_e_2000(trial.after, steps[number]) < 0.3
    assert all(two.follows(one) for one, two in pairwise(chain))
    assert chain[2].note == "strip 1, over clear shellac seal, then raw umber wash"
    # The last photograph alone reads them all.
    whole = read_strips(photo, frame, strips, BARE, CARD, piece="S", made=(1,), layers=(1, 2, 3))
    assert [t.application.layer for t in whole.trials] == [c.layer.name for c in STACK.steps]
    with pytest.raises(ValueRefused, match="no layer 4"):
        read_strips(photo, frame, strips, BARE, CARD, layers=(4,))


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


@pytest.mark.parametrize(
    "layers", [(1,), (1,) * 5, (1,) * 12, (1,) * 20, (3,), (6, 4, 2), (3, 1, 2, 1, 4, *(1,) * 9)]
)
def test_places_lie_inside_the_frame_and_apart(layers: tuple[int, ...]) -> None:
    layout = StripLayout(layers)
    fields = [field for strip in range(len(layers)) for field in layout.fields(strip)]
    places = [layout.card, *fields]
    left, top, width, height = FRAME
    covered = np.zeros((round(PAGE[1] * 4), round(PAGE[0] * 4)), dtype=int)
    for x, y, w, h in places:
        assert left < x and x + w < left + width
        assert top < y and y + h < top + height
        assert w > 25.0 and h > 20.0
        covered[round(y * 4) : round((y + h) * 4), round(x * 4) : round((x + w) * 4)] += 1
    assert covered.max() == 1
    assert len(fields) == sum(layers) + len(layers)
    # The card lies within a row of the middle of what is in use.
    low, high = (edge(y + half * h for _, y, _, h in places) for edge, half in ((min, 0), (max, 1)))
    assert abs(layout.card[1] + layout.card[3] / 2.0 - (low + high) / 2.0) < (high - low) / 3.0


@pytest.mark.parametrize("layers", [(), (1,) * 21, (2,) * 7, (2,) * 3 + (1,) * 12])
def test_too_few_and_too_many_strips_are_refused(layers: tuple[int, ...]) -> None:
    with pytest.raises(ValueRefused, match="1 to 20"):
        StripLayout(layers)


def test_sheet_needs_nothing_beside_it_and_says_what_to_lay() -> None:
    page = strip_sheet(twelve(), BARE, "hall mirror")
    assert not re.search(r"(src|href)=|https?://|<script", page)
    for strip in twelve():
        (coat,) = strip.steps
        assert f"{coat.layer.name}, {say_coats(coat.coats)}</td>" in page
        assert say_pot(coat.layer, coat.strength, USUAL_POT) in page
    assert "clear shellac seal, 1 coat" in page
    assert "A second coat of shellac partly merges" in page
    assert "15 to 60 minutes" in page
    assert "Local rules" in page
    assert "; one flowing pass, not worked twice</td>" in page  # how each is laid


def test_printed_places_are_those_that_are_read() -> None:
    strips = [*twelve()[:2], STACK]
    layout = StripLayout.of(strips)
    page = strip_sheet(strips, BARE, "hall mirror")
    for x, y, w, h in (layout.card, *layout.fields(0), *layout.fields(2)):
        assert f"left:{x:.2f}mm;top:{y:.2f}mm;width:{w:.2f}mm;height:{h:.2f}mm" in page


def _light(count: int) -> Array:
    """The linear light of `photographed`."""
    photo = photographed(count)
    return linear_light(photo, 0, 0, photo.width, photo.height).astype(np.float64)
