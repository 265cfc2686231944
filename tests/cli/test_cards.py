"""White, grey and black cards: stated once, marked beside the grey one, and what they buy.

Photographs by the simulated camera, whose true colours are known.
"""

import re
from pathlib import Path

import numpy as np
import pytest

from tests.cli.commands import Run, refused
from tests.measure.simulated_camera import Conditions, Scene, neutral, photograph, random_pair
from tonematch.logbook.own_cards import OWN_CARDS
from tonematch.measure.colour.difference import delta_e_2000

GREY, OLD, NEW, WHITE, BLACK = range(5)
WITHIN = r"between (\d+\.\d) and (\d+\.\d)"
NARROWER = re.compile(
    rf"From the camera's raw or DNG file the difference would be known to lie {WITHIN}, "
    rf"with white and black cards beside the grey one {WITHIN}\."
)


@pytest.fixture(scope="module")
def scene() -> Scene:
    """Grey card, two golds about 3 apart, white and black cards of the usual reflectances."""
    old, new = random_pair(np.random.default_rng(5), 3.0)[:2]
    return Scene([neutral(0.18), old, new, neutral(0.9), neutral(0.04)], 5)


def taken(scene: Scene, path: Path, how: Conditions) -> Path:
    path.write_bytes(photograph(scene, how, np.random.default_rng(6)))
    return path


@pytest.fixture(scope="module")
def picture(scene: Scene, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A picture with more contrast than its file says, as phones make them."""
    path = tmp_path_factory.mktemp("tones") / "contrast.jpg"
    return taken(scene, path, Conditions(lamp="D50", exponent=1.2))


def box(scene: Scene, index: int) -> str:
    return ",".join(f"{side:g}" for side in scene.box(index))


def golds(scene: Scene) -> list[str]:
    return ["--card", box(scene, GREY), "--original", box(scene, OLD), "--repair", box(scene, NEW)]


def tones(scene: Scene) -> list[str]:
    return ["--white", box(scene, WHITE), "--black", box(scene, BLACK)]


def test_three_tones_undo_the_contrast_and_narrow_the_interval(
    run: Run, scene: Scene, picture: Path
) -> None:
    read = ("read", picture, "--card", box(scene, GREY), "--area", f"old={box(scene, OLD)}")
    alone, three = (
        run(*read, *more, "--json").json["areas"]["old"]["lab"] for more in ([], tones(scene))
    )
    true = scene.patches[OLD].lab
    assert float(delta_e_2000(alone, true)) > 3.0
    assert float(delta_e_2000(three, true)) < 0.4 * float(delta_e_2000(alone, true))
    compare = ("compare", picture, *golds(scene), "--json")
    wide, narrow = (run(*compare, *more).json["interval_95"] for more in ([], tones(scene)))
    between = float(delta_e_2000(true, scene.patches[NEW].lab))
    assert narrow[0] < between < narrow[1]
    assert narrow[1] - narrow[0] < 0.7 * (wide[1] - wide[0])


def test_a_reading_on_the_card_alone_says_what_would_make_it_surer(
    run: Run, scene: Scene, tmp_path: Path
) -> None:
    picture = taken(scene, tmp_path / "a.jpg", Conditions(lamp="D50"))
    read = ("read", picture, "--card", box(scene, GREY), "--area", f"old={box(scene, OLD)}")
    ((raw, three),) = re.findall(
        r"the L\* of old would be known within ± ([0-9.]+), with white and black cards beside the "
        r"grey one within ± ([0-9.]+)[.]",
        run(*read).out,
    )
    assert float(raw) < float(three)
    told = run(*read, *tones(scene)).out
    (within,) = re.findall(r"old: L\* [0-9.]+ ± ([0-9.]+)", told)
    assert float(within) == pytest.approx(float(three), rel=0.15)
    assert "white and black cards beside" not in told


def test_one_sentence_says_what_would_narrow_it_most_and_to_what(
    run: Run, scene: Scene, tmp_path: Path
) -> None:
    picture = taken(scene, tmp_path / "a.jpg", Conditions(lamp="D50"))
    found = NARROWER.findall(run("compare", picture, *golds(scene)).out)
    assert len(found) == 1
    raw, three = np.array(found[0], dtype=float).reshape(2, 2)
    assert np.diff(raw) < np.diff(three)
    # What is foretold is what the cards, and a file of linear light, then give.
    with_cards = run("compare", picture, *golds(scene), *tones(scene), "--json").json
    assert with_cards["interval_95"] == pytest.approx(three, abs=0.3)
    assert "with white and black cards" not in with_cards["words"]
    sensor = Conditions(lamp="D50", gamma=1.0, quality=None)
    linear = ("--encoding", "linear", "--json")
    of_sensor = run("compare", taken(scene, tmp_path / "a.png", sensor), *golds(scene), *linear)
    assert of_sensor.json["interval_95"] == pytest.approx(raw, abs=0.3)
    assert "would be known" not in of_sensor.json["words"]


def test_what_the_cards_reflect_is_said_to_be_assumed_until_it_is_stated(
    run: Run, scene: Scene, picture: Path
) -> None:
    read = ("read", picture, "--card", box(scene, GREY), "--area", f"old={box(scene, OLD)}")
    usual = run(*read, *tones(scene))
    assert "Assumed of your cards: white reflects 0.9, black reflects 0.04;" in usual.out
    assert "black card: reflectance 0.04, assumed\n" in run("cards").out
    stated = run("cards", "--white", "0.8", "--grey-lab", "49.5,0.2,-0.4")
    assert stated.out.startswith("white card: reflectance 0.8\ngrey card: L*a*b* 49.5, 0.2, -0.4\n")
    assert run("cards", "--json").json["white"] == {
        "reflectance": 0.8, "words": "reflectance 0.8"
    }  # fmt: skip
    own = run(*read, *tones(scene))
    assert "Assumed of your cards: black reflects 0.04;" in own.out
    one, other = (re.search(r"^old: .*$", ran.out, re.MULTILINE) for ran in (own, usual))
    assert one is not None and other is not None
    assert one[0] != other[0]
    # Typed for one picture, the grey card goes before what is kept.
    typed = run(*read, "--card-reflectance", "0.18", "--json").json["areas"]["old"]["lab"]
    assert typed != run(*read, "--json").json["areas"]["old"]["lab"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("--white", "88"), "reflectance of 88"),
        (("--white", "0.1"), "each must reflect less than the one before it"),
        (("--black", "0.5"), "each must reflect less than the one before it"),
        (("--black", "o.05"), "--black o.05: give a number"),
        (("--grey", "nan"), "reflectance of nan"),
        (("--grey-lab", "50,60,0"), "not that of a grey card"),
        (("--grey-lab", "0.89,0,0"), "give L* from 0.9 to 100, a* and b* within 30 of 0"),
        (("--grey-lab", "0.9,0,0"), "each must reflect less than the one before it"),
        (("--grey", "0.2", "--grey-lab", "50,0,0"), "given twice"),
    ],
)
def test_a_misspelt_value_changes_nothing(run: Run, typed: tuple[str, ...], words: str) -> None:
    assert run("cards", "--white", "0.85").status == 0
    refused(run("cards", *typed), words)
    assert run("cards").out.splitlines()[:2] == [
        "white card: reflectance 0.85",
        "grey card: reflectance 0.18, assumed",
    ]


@pytest.mark.parametrize("line", ["whit = 0.9", "white = 'o.9'", "white = 9", "white = 0.9 0.8"])
def test_a_file_spoilt_by_hand_is_told_and_stays(run: Run, line: str) -> None:
    assert run("cards", "--black", "0.05").status == 0
    spoilt = f"black = 0.05\n{line}\n"
    OWN_CARDS.path.write_text(spoilt)
    refused(run("cards"), str(OWN_CARDS.path))
    refused(run("cards", "--white", "0.9"), "set that right there")
    assert OWN_CARDS.path.read_text() == spoilt


def test_the_second_photograph_has_cards_of_its_own(run: Run, scene: Scene, picture: Path) -> None:
    two = ("compare", picture, picture, *golds(scene), *tones(scene))
    own = ["--white2", box(scene, WHITE), "--black2", box(scene, BLACK)]
    assert run(*two, *own).status == 0
    half, both = (run(*two, *more, "--json").json["interval_95"] for more in ([], own))
    assert both[1] - both[0] < half[1] - half[0]
    refused(run("compare", picture, *golds(scene), *own), "--white2")


def test_of_two_photographs_the_one_whose_card_is_bad_is_named(
    run: Run, scene: Scene, picture: Path, tmp_path: Path
) -> None:
    bright = taken(scene, tmp_path / "bright.jpg", Conditions(lamp="D50", exposure=6.0))
    refused(run("compare", picture, bright, *golds(scene)), "bright.jpg: The card is overexposed")
    rough = taken(scene, tmp_path / "rough.jpg", Conditions(lamp="D50", quality=30))
    said = run("compare", picture, rough, *golds(scene), "--json").json["warnings"]
    assert any(warning.startswith("rough.jpg: ") for warning in said)
