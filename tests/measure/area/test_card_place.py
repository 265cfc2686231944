"""Cards that are found and proposed: on rendered, drawn and real photographs."""

import json
from io import BytesIO

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.measure.chart_photographs import NO_PHOTOS, are_there, chart_photographs
from tests.measure.simulated_camera import (
    Conditions,
    Patch,
    Scene,
    neutral,
    photograph,
    random_pair,
)
from tonematch.arrays import Array
from tonematch.measure.area.areas import Box
from tonematch.measure.area.card_place import find_cards
from tonematch.measure.calibration.chart import find_chart
from tonematch.photo.decode import load_photo
from tonematch.swatchbook import swatch_path

TRUTH = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))["pictures"]
GOOD = [name for name in TRUTH if name != "overexposed.jpg"]
CARDS = {"grey": "card", "white": "white card", "black": "black card"}
# The rendered cards reach so far beyond the boxes that truth.json marks on them, pixels.
REACH = 30


def _lies_in(box: Box, corners: Array) -> bool:
    x, y, w, h = box
    places = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    edge = corners.astype(np.float32)
    return all(cv2.pointPolygonTest(edge, place, False) >= 0 for place in places)


def _card_corners(name: str, card: str) -> Array:
    x, y, w, h = TRUTH[name]["areas"][CARDS[card]]["box"]
    x0, y0, x1, y1 = x - REACH, y - REACH, x + w + REACH, y + h + REACH
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.float64)


@pytest.mark.parametrize("name", GOOD)
def test_all_three_cards_are_found_in_the_demonstration(name: str) -> None:
    found = find_cards(load_photo(swatch_path("demo", name)))
    assert found.keys() == CARDS.keys()
    for card, box in found.items():
        assert _lies_in(box, _card_corners(name, card)), card
        # Large enough to be read: half of what a person would mark.
        w, h = TRUTH[name]["areas"][CARDS[card]]["box"][2:]
        assert box[2] * box[3] > 0.5 * w * h


def test_in_a_clipped_picture_the_black_card_is_not_taken_for_the_grey_one() -> None:
    assert find_cards(load_photo(swatch_path("demo", "overexposed.jpg"))) == {}


def _askew(name: str, rng: np.random.Generator) -> tuple[bytes, Array]:
    """A demonstration picture as a hand takes it: turned, nearer or farther, off in light."""
    picture = np.asarray(Image.open(swatch_path("demo", name))).astype(np.float64) / 255.0
    height, width = picture.shape[:2]
    at = np.eye(3)
    centre = (width / 2, 0.6 * height)
    at[:2] = cv2.getRotationMatrix2D(centre, rng.uniform(-25, 25), rng.uniform(0.5, 1.2))
    at[2, :2] = rng.uniform(-1.5e-4, 1.5e-4, 2)
    balance = np.exp(rng.normal(0.0, 0.06, 3)) * rng.uniform(0.5, 1.15)
    lit = np.clip(picture**2.2 * balance, 0.0, 1.0) ** (1 / 2.2)
    around = (0.3, 0.24, 0.16)
    moved = cv2.warpPerspective(lit, at, (width, height), borderValue=around)
    seen = moved + rng.normal(0.0, rng.uniform(0.0, 0.02), moved.shape)
    file = BytesIO()
    codes = (255 * np.clip(seen, 0.0, 1.0)).astype(np.uint8)
    Image.fromarray(codes).save(file, "JPEG", quality=int(rng.uniform(70, 95)))
    return file.getvalue(), at


def hits(count: int, seed: int) -> dict[str, list[int]]:
    """How often each card is found, proposed elsewhere, and not proposed."""
    rng = np.random.default_rng(seed)
    tally = {card: [0, 0, 0] for card in CARDS}
    for i in range(count):
        name = GOOD[i % len(GOOD)]
        picture, at = _askew(name, rng)
        found = find_cards(load_photo(picture))
        for card, counts in tally.items():
            if card not in found:
                counts[2] += 1
                continue
            corners = cv2.perspectiveTransform(_card_corners(name, card)[None], at)[0]
            counts[0 if _lies_in(found[card], corners) else 1] += 1
    return tally


@pytest.mark.proof
def test_cards_are_found_in_pictures_that_are_turned_and_badly_lit() -> None:
    tally = hits(8, 3)
    assert tally["grey"][0] >= 7
    assert sum(counts[1] for counts in tally.values()) <= 2


def test_a_card_between_golds_is_found_under_any_lamp() -> None:
    """Golds and cards of the simulated camera, whose spectra are known, side by side."""
    rng = np.random.default_rng(5)
    for lamp in ("A", "D50", "LED-B4", "FL2"):
        old, new = random_pair(rng, 3.0)[:2]
        patches: list[Patch] = [old] * 5 + [new] * 15
        patches[6], patches[8], patches[11] = neutral(0.18), neutral(0.9), neutral(0.04)
        scene = Scene(patches, 5)
        found = find_cards(load_photo(photograph(scene, Conditions(lamp=lamp), rng)))
        assert "grey" in found, lamp
        for card, place in (("grey", 6), ("white", 8), ("black", 11)):
            if card in found:
                x, y, w, h = scene.box(place)
                corners = [(x - 12, y - 12), (x + w + 12, y - 12)]
                corners += [(x + w + 12, y + h + 12), (x - 12, y + h + 12)]
                assert _lies_in(found[card], np.array(corners)), (lamp, card)


def test_no_card_is_made_up_between_golds() -> None:
    rng = np.random.default_rng(6)
    for _ in range(4):
        old, new = random_pair(rng, 3.0)[:2]
        scene = Scene([old] * 5 + [new, old, new] * 5, 5)
        assert find_cards(load_photo(photograph(scene, Conditions(), rng))) == {}


@pytest.mark.skipif(not are_there(), reason=NO_PHOTOS)
@pytest.mark.proof
def test_on_real_photographs_a_chart_is_seen_at_a_glance_and_its_greys_are_no_cards() -> None:
    for shown in chart_photographs():
        assert find_cards(shown.photo) == {}, shown.name
        assert find_chart(shown.photo, at_a_glance=True) is not None, shown.name
