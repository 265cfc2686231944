"""Photographs that cannot show what is wrong with them, and what a person is asked then."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.measure.painted import GREY, encode, lab_to_light, painted_light
from tests.measure.simulated_camera import Conditions, Scene, neutral, photograph, random_pair

Lab = tuple[float, float, float]
Box = tuple[int, int, int, int]

OLD: Lab = (70.0, 8.0, 32.0)
NEW: Lab = (74.0, 7.0, 34.0)
NEAR: Mapping[str, Box] = {
    "card": (20, 20, 120, 120), "original": (180, 20, 120, 120), "repair": (180, 170, 120, 120),
}  # fmt: skip
FAR: Mapping[str, Box] = {**NEAR, "repair": (500, 170, 120, 120)}
SECOND: Box = (500, 20, 100, 100)


@dataclass(frozen=True)
class Asked:
    """A photograph as a file, what is marked on it, and words of the one sentence that is due."""

    picture: Callable[[], bytes]
    words: str
    boxes: Mapping[str, Box] = field(default_factory=lambda: NEAR)
    other_card: Box | None = None


def painted(original: Lab = OLD, repair: Lab = NEW, card: Lab = GREY) -> NDArray[np.float64]:
    """Card, original and repair near to each other, and far from them the repair and a card."""
    colours = {"card": card, "original": original, "repair": repair}
    fields = {NEAR[role]: lab for role, lab in colours.items()}
    fields |= {FAR["repair"]: repair, SECOND: card}
    return painted_light(fields, (640, 310), noise=0.01)


def straddling() -> NDArray[np.float64]:
    """The left half of the original is another gold."""
    light = painted()
    x, y, w, h = NEAR["original"]
    light[y : y + h, x : x + w // 2] *= lab_to_light(np.array((62.0, 11.0, 38.0))) / lab_to_light(
        np.array(OLD)
    )
    return light


def as_file(light: NDArray[np.float64], linear: bool = False) -> bytes:
    """A PNG of 8 bits; linear light is kept as it is, and the file does not say so."""
    codes = np.rint(np.clip(light, 0, 1) * 255) if linear else encode(light, 8)
    file = BytesIO()
    Image.fromarray(np.asarray(codes, dtype=np.uint8)).save(file, "PNG", compress_level=1)
    return file.getvalue()


def _scene() -> Scene:
    old, new = random_pair(np.random.default_rng(5), 3.0)
    return Scene([neutral(0.18), old, new, neutral(0.05), neutral(0.05), neutral(0.18)], 3)


def _of_scene() -> dict[str, Box]:
    return {role: _place(k) for k, role in enumerate(("card", "original", "repair"))}


def _place(index: int) -> Box:
    x, y, w, h = map(int, _scene().box(index))
    return x, y, w, h


def warm_reflection(share: float = 0.02) -> bytes:
    """By the simulated camera, an orange wall at the repair's side."""
    how = Conditions(warm=share)
    return photograph(_scene(), how, np.random.default_rng(6))


STEMS = ("longer side", "colour of the light", "two parts", "neutral, as", "which gilding is not",
         "coloured like gold", "looks coloured", "linear light", "bright as white", "than white",
         "as glare")  # fmt: skip
"""Of every sentence that these photographs may lead to."""
ASKED = {
    "a repair far from the card": Asked(
        lambda: as_file(painted()),
        "'repair' lies 79 % of the picture's longer side from the card, and a coloured wall or "
        "curtain may tint the light unseen: lay a second card beside it",
        FAR,
    ),
    "a warm reflection, one card": Asked(
        warm_reflection, "'repair' lies 67 % of the picture's longer side", _of_scene()
    ),
    "a warm reflection, a second card": Asked(
        warm_reflection,
        "The colour of the light changes by",
        _of_scene(),
        _place(5),
    ),
    "two golds": Asked(
        lambda: as_file(straddling()), "'original' holds two parts "
    ),
    "a wall": Asked(
        lambda: as_file(painted(repair=(70.0, 1.0, 1.0))),
        "'repair' reads neutral, as silver leaf does and gold does not: if it is no silver",
    ),
    "silver leaf": Asked(
        lambda: as_file(painted((80.0, 0.0, 2.0), (84.0, 0.0, 1.0))),
        "'original' and 'repair' read neutral, as silver leaf does",
    ),
    "a leaf of a plant": Asked(
        lambda: as_file(painted((50.0, -25.0, 25.0))),
        "'original' reads green, which gilding is not: mark the gilding itself",
    ),
    "daylight on the gold, a lamp on the card": Asked(
        lambda: as_file(painted() * np.where(np.arange(640) < 160, 1, [[0.4], [0.6], [2.0]]).T),
        "'original' and 'repair' read bluish, which gilding is not",
    ),
    "gold for a card": Asked(
        lambda: as_file(painted(card=(70.0, 8.0, 36.0))),
        "What is marked as the card is coloured like gold, and 'original' and 'repair' beside it "
        "read pale",
    ),
    "linear light": Asked(
        lambda: as_file(painted(), linear=True),
        "The card is dark: photograph with more exposure for a surer reading, or say that the file "
        "holds linear light, whatever it says",
    ),
}  # fmt: skip
