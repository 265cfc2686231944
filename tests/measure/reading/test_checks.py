"""What cannot be read is refused, each by one sentence that says what to do instead."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.measure.painted import GREY, painted_light, photo_of
from tonematch.errors import AreaError, CardError, ReadingError, TonematchError
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.core import Reading
from tonematch.measure.reading.checks import edge_width
from tonematch.measure.reading.reading import read_area

GOLD = (62.0, 7.0, 32.0)
CARD_BOX, GOLD_BOX = (20, 20, 60, 60), (110, 20, 80, 80)
CARD = box_area("card", (30, 30, 40, 40), "card")
Light = NDArray[np.float64]
Box = tuple[float, float, float, float]


def scene(gold: tuple[float, float, float] = GOLD) -> Light:
    """A grey card on black, gold beside it."""
    return painted_light({CARD_BOX: GREY, GOLD_BOX: gold}, (220, 130), noise=0.01)


def read(light: Light, box: Box = (120, 30, 60, 60), card: Box = (30, 30, 40, 40)) -> Reading:
    photo = photo_of(light, 8)
    marked = box_area("card", card, "card")
    calibration = calibrate(photo, marked, card_from_reflectance(0.18))
    return read_area(photo, box_area("cheek", box, "repair"), calibration)


def clipped_in_blue() -> Light:
    light = scene()
    light[20:100, 110:190, 2] = 1.2
    return light


def coloured_card() -> Light:
    return painted_light({CARD_BOX: (50.0, 60.0, 45.0), GOLD_BOX: GOLD}, (220, 130), noise=0.01)


def card_in_shade() -> Light:
    light = scene()
    light[:, :100] *= 0.15
    return light


def blurred(deviation: float) -> Light:
    return np.asarray(cv2.GaussianBlur(scene(), (0, 0), deviation))


def room_in_the_gold() -> Light:
    light = scene()
    light[20:60, 110:190] *= 0.2
    return light


BAD: dict[str, tuple[type[TonematchError], str, Callable[[], Reading]]] = {
    "clipped in one channel": (ReadingError, "less exposure", lambda: read(clipped_in_blue())),
    "under-exposed": (ReadingError, "more light", lambda: read(scene((0.2, 0.0, 0.0)))),
    "under-exposed card": (CardError, "more light", lambda: read(scene() * 0.03)),
    "card not neutral": (CardError, "mark the grey card", lambda: read(coloured_card())),
    "card in shade": (ReadingError, "same light", lambda: read(card_in_shade())),
    "blurred": (ReadingError, "hold the camera still",
                lambda: read(blurred(4.0), (140, 50, 14, 14), (35, 35, 30, 30))),
    "overlapping": (AreaError, "mark it elsewhere|mark them apart",
                    lambda: read(scene(), (60, 30, 60, 60))),
    "outside the picture": (AreaError, "mark it inside", lambda: read(scene(), (180, 90, 60, 60))),
    "too small": (ReadingError, "mark a larger", lambda: read(scene(), (120, 30, 4, 4))),
    "mirrors the room": (ReadingError, "hang white cloth", lambda: read(room_in_the_gold())),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_refused_with_the_remedy(case: str) -> None:
    kind, remedy, make = BAD[case]
    with pytest.raises(kind, match=remedy) as refusal:
        make()
    said = str(refusal.value)
    assert said.endswith(".")
    assert said.count(". ") == 0
    assert len(said) < 200


def test_a_good_photograph_is_read_without_a_word() -> None:
    assert read(scene()).warnings == ()


def test_a_little_blur_is_only_told() -> None:
    warnings = read(blurred(5.5), (130, 40, 40, 40)).warnings
    assert any("blurred over about" in warning for warning in warnings)


@pytest.mark.parametrize("deviation", [2.0, 3.0, 5.0])
def test_width_of_edges_is_that_of_the_blur(deviation: float) -> None:
    found = edge_width(photo_of(blurred(deviation), 8), CARD)
    assert found is not None
    # The view is of code values, which bend the edge a little: a quarter is near enough.
    assert found[0] == pytest.approx(deviation, rel=0.25)


def test_without_an_edge_there_is_no_complaint_of_blur() -> None:
    smooth = np.full((130, 220, 3), 0.18) * np.linspace(0.9, 1.1, 220)[None, :, None]
    noisy = smooth * (1 + 0.01 * np.random.default_rng(3).standard_normal(smooth.shape))
    assert edge_width(photo_of(noisy, 8), CARD) is None


def test_mottle_is_no_mirrored_room() -> None:
    light = scene()
    random = np.random.default_rng(5)
    mottle = cv2.GaussianBlur(random.standard_normal(light.shape[:2]), (0, 0), 3.0)
    light[20:100, 110:190] *= (1 + 0.15 * mottle / mottle.std())[20:100, 110:190, None]
    assert not any("mirrors" in warning for warning in read(light).warnings)


def parts_told(gold: Light) -> bool:
    """Whether an area of 60 by 60, given as factors of one gold's light, is read as two parts."""
    light = scene()
    light[30:90, 120:180] *= gold
    return any("holds two parts" in warning for warning in read(light).warnings)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_two_golds_in_one_area_are_told(share: float, turn: float) -> None:
    y, x = np.mgrid[0:60, 0:60]
    across = x * np.cos(turn) + y * np.sin(turn)
    beyond = across > np.quantile(across, share)
    assert parts_told(np.where(beyond[..., None], [1.15, 1.0, 0.8], 1.0))


def test_what_is_spread_over_the_area_or_slopes_is_one_gold() -> None:
    """Mottle in one area of a hundred might be told; worn spots and a slope of light are not."""
    random = np.random.default_rng(8)
    blotches = [
        cv2.GaussianBlur(random.standard_normal((60, 60)), (0, 0), scale)[..., None]
        for scale in (1.5, 3.0, 5.0)
        for _ in range(10)
    ]
    assert not any(parts_told(1 + 0.1 * field / field.std()) for field in blotches)
    worn = blotches[-1] > np.quantile(blotches[-1], 0.7)
    assert not parts_told(np.where(worn, [0.9, 0.7, 0.6], 1.0))
    assert not parts_told(1 + 0.4 * np.linspace(-0.5, 0.5, 60)[None, :, None])
