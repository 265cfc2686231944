"""What a marked area holds, told before it is calibrated."""

import numpy as np
import pytest

from tests.measure.simulated_camera import Conditions, Scene, neutral, photograph, random_pair
from tonematch.demonstration import demo_photograph
from tonematch.measure.appearance.glance import Glance, glance
from tonematch.measure.area.areas import box_area
from tonematch.measure.core import Role
from tonematch.photo.decode import load_photo
from tonematch.swatchbook import swatch_path

SCENE = load_photo(swatch_path("demo", "scene-1.jpg"))


def _seen(box: tuple[float, ...], role: Role) -> Glance:
    return glance(SCENE, box_area("Area", box, role))


def test_the_demonstrations_areas_are_as_they_were_rendered() -> None:
    """The original is rendered with mottle, the repair and the card all but without."""
    areas = demo_photograph("scene-1.jpg").areas
    seen = {role: glance(SCENE, area) for role, area in areas.items()}
    assert all(one.faults == () for one in seen.values())
    assert [seen[role].evenness for role in ("card", "original", "repair")] == [
        "even", "softly mottled", "even",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("box", "role", "words"),
    [
        ((650, 640, 320, 180), "card", "stand out"),  # over the card's edge and print
        ((714, 664, 4, 4), "card", "16 pixels only"),
        ((688, 664, 182, 102), "card", "a little further in"),  # 4 pixels from its edge
        ((400, 400, 5, 5), "original", "25 pixels only"),
    ],
)
def test_what_is_wrong_with_a_box_is_told_at_once(
    box: tuple[float, ...], role: Role, words: str
) -> None:
    assert any(words in fault for fault in _seen(box, role).faults)


def test_a_box_over_two_surfaces_is_strongly_mottled() -> None:
    assert _seen((100, 150, 400, 400), "original").evenness == "strongly mottled"


@pytest.mark.parametrize("exposure", [0.3, 0.7])
def test_colour_follows_the_file_and_light_falling_off_is_no_mottle(exposure: float) -> None:
    old = random_pair(np.random.default_rng(2), 3.0)[0]
    how = Conditions(exposure=exposure, gradient=(0.3, 0.2), quality=None)
    scene = Scene([neutral(0.5), old], 2)
    photo = load_photo(photograph(scene, how, np.random.default_rng(3)))
    even = glance(photo, box_area("Area", scene.box(0), "original"))
    assert even.evenness == "even"
    assert even.lab is not None
    # L* of a neutral of reflectance 0.5 at this exposure (ISO/CIE 11664-4), light falling off.
    foretold = 116 * np.cbrt(0.5 * exposure) - 16
    assert even.lab[0] == pytest.approx(foretold, abs=8)
