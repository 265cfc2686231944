"""The last step of a repair that is too even, from photographs of known patches and known wear."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cases import in_ci
from tests.cli.commands import Ran, Run
from tests.cli.picture_files import saved
from tests.demonstration.camera import raw_weights, save_jpeg, take
from tests.demonstration.render_demo import PICTURES, build_scene
from tests.demonstration.scene import Scene, blotches, rail_shading
from tests.demonstration.spectra import Array
from tests.measure.mottled import blotches as field_of
from tests.measure.painted import GREY, encode, lab_to_light
from tonematch.swatchbook import swatch_path

SIDE = 200
CLEAR, DARK = np.array((62.0, 8.0, 31.0)), np.array((58.0, 9.5, 28.0))
# The card is 80 pixels wide as marked; as 40 mm wide that is 0.5 mm a pixel.
MM = 0.5
AREAS = ("--card", "20,20,80,80", "--original", f"120,10,{SIDE},{SIDE}",
         "--repair", f"340,10,{SIDE},{SIDE}", "--evenness")  # fmt: skip


def _light(original: Array, repair: Array) -> Array:
    """Card, original and repair, both given as how dark they are: 0 clear, 1 as dark as DARK."""
    light = np.full((SIDE + 20, 560, 3), 0.05)
    light[10:110, 10:110] = lab_to_light(np.array(GREY))
    for x, dark in ((120, original), (340, repair)):
        light[10 : 10 + SIDE, x : x + SIDE] = lab_to_light(CLEAR + dark[..., None] * (DARK - CLEAR))
    return light


def _discs(diameter: float, cover: float, seed: int) -> Array:
    """Discs strewn at random until they cover a part of the area."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:SIDE, :SIDE]
    dark = np.zeros((SIDE, SIDE), dtype=bool)
    while dark.mean() < cover:
        row, column = rng.uniform(-diameter, SIDE + diameter, 2)
        dark |= np.hypot(y - row, x - column) < diameter / 2
    return dark.astype(float)


def _field(length: float, seed: int) -> Array:
    """A Gaussian random field of a given correlation length, a quarter of DARK its deviation."""
    return 0.5 + 0.4 * field_of(np.random.default_rng(seed), length / 2.0, (SIDE, SIDE))


def _run_on(run: Run, path: Path, *options: object) -> Ran:
    return run("compare", path, *AREAS, *options)


EVEN = np.full((SIDE, SIDE), 0.5)


@pytest.mark.parametrize("seed", [0, in_ci(1), in_ci(2)])
@pytest.mark.parametrize("diameter", [10.0, in_ci(5.0), in_ci(20.0)])
def test_strewn_discs_are_told_by_their_diameter(
    run: Run, tmp_path: Path, diameter: float, seed: int
) -> None:
    path = saved(_light(_discs(diameter, 0.3, seed), EVEN), tmp_path / "discs.png", noise=0.01)
    found = _run_on(run, path, "--card-width", 80 * MM, "--json").json
    patches = found["evenness"]["patches"]["original"]
    assert patches["across_mm"] == pytest.approx(diameter * MM, rel=0.25)
    assert patches["dark"] == pytest.approx(0.3, abs=0.1)
    assert patches["delta"]["L"] == pytest.approx(DARK[0] - CLEAR[0], rel=0.3)
    (words,) = found["last_step"]
    assert "the repair is even" in words
    assert "of the gold clear" in words


@pytest.mark.parametrize("noise", [0.0, 0.05])
@pytest.mark.parametrize("length", [5.0, in_ci(9.0)])
def test_a_random_field_is_told_by_its_crossings(
    run: Run, tmp_path: Path, length: float, noise: float
) -> None:
    """Against the mean run between crossings of the mean, counted along rows and columns.

    Rice (1945) gives pi l / sqrt(2) for a correlation of exp(-r^2 / l^2); l is the length in the
    usual sense, where it has fallen to 1/e (so in Bennett and Mattsson 1989; from memory).
    """
    dark = _field(length, seed=4)
    signs = dark > dark.mean()
    crossings = [(np.diff(signs, axis=axis)).mean() for axis in (0, 1)]
    run_length = 1.0 / float(np.mean(crossings))
    assert run_length == pytest.approx(math.pi * length / math.sqrt(2), rel=0.15)
    path = saved(_light(dark, EVEN), tmp_path / "field.png", noise=noise)
    found = _run_on(run, path, "--json").json["evenness"]["patches"]["original"]
    assert found["across_mm"] is None
    assert found["across"] * SIDE == pytest.approx(run_length, rel=0.25)


def test_a_repair_that_is_as_uneven_is_left_alone(run: Run, tmp_path: Path) -> None:
    path = saved(_light(_field(7.0, 1), _field(7.0, 2)), tmp_path / "alike.png", noise=0.01)
    found = _run_on(run, path, "--json").json
    assert found["evenness"]["verdict"] == "alike"
    assert found["evenness"]["patches"]["repair"] is not None
    assert found["last_step"] == []


WORN = _discs(10.0, 0.3, 0)
ALIKE = np.full((SIDE, SIDE), WORN.mean())


@pytest.mark.parametrize(
    ("original", "repair", "verdict", "told"),
    [
        (WORN, ALIKE, ": match", True),
        in_ci(ALIKE, ALIKE, ": match", False),
        in_ci(WORN, np.full((SIDE, SIDE), 2.0), ": no match", False),
    ],
    ids=["worn", "plain", "darker"],
)
def test_a_match_that_is_too_even_is_told_its_last_step_unasked(
    run: Run, tmp_path: Path, original: Array, repair: Array, verdict: str, told: bool
) -> None:
    path = saved(_light(original, repair), tmp_path / "pair.png", noise=0.01)
    ran = run("compare", path, *AREAS[:-1])
    assert verdict in ran.out
    assert ("The old gold breaks up" in ran.out) is told
    assert "Evenness:" not in ran.out


@pytest.mark.parametrize("coded", ["png", "jpg"])
def test_noise_of_the_camera_is_no_patch(run: Run, tmp_path: Path, coded: str) -> None:
    """Both gilded evenly, the original's half of the picture three times as noisy."""
    light = _light(EVEN, EVEN)
    noise = np.random.default_rng(3).standard_normal(light.shape)
    light[:, :330] *= 1.0 + 0.06 * noise[:, :330]
    light[:, 330:] *= 1.0 + 0.02 * noise[:, 330:]
    path = tmp_path / f"noise.{coded}"
    Image.fromarray(np.asarray(encode(light, 8))).save(path, quality=85)
    ran = _run_on(run, path, "--card-width", 40)
    assert "patches" not in ran.out
    assert "specks of that size" not in ran.out


@pytest.mark.proof
def test_the_old_gold_of_the_demonstration(run: Run, boxes: dict[str, str]) -> None:
    """Against the crossings of the very film and wear that were rendered, a slope taken off."""
    scene = build_scene(PICTURES[0])
    x, y, w, h = map(int, boxes["original"].split(","))
    dark = scene.amount[y : y + h, x : x + w]
    rows, columns = np.mgrid[:h, :w]
    design = np.column_stack([np.ones(h * w), rows.ravel(), columns.ravel()])
    flat = dark.ravel() - design @ np.linalg.lstsq(design, dark.ravel(), rcond=None)[0]
    signs = flat.reshape(h, w) > 0
    run_length = 1.0 / float(np.mean([np.diff(signs, axis=axis).mean() for axis in (0, 1)]))
    areas = [part for role, box in boxes.items() for part in (f"--{role}", box)]
    width = int(boxes["card"].split(",")[2]) / 4.0  # 4 pixels a millimetre
    found = run("compare", swatch_path("demo", "scene-1.jpg"), *areas, "--card-width", width,
                "--json").json  # fmt: skip
    across = found["evenness"]["patches"]["original"]["across_mm"]
    assert across * 4.0 == pytest.approx(run_length, rel=0.25)
    assert "darker" in found["last_step"][0]


# The string of beads, of the original and of the repair.
BEADS_OF = ("--card", "714,664,182,102", "--original", "20,135,740,105",
            "--repair", "860,135,720,105", "--evenness")  # fmt: skip


def _worn_scene(where: str, rng: np.random.Generator) -> Scene:
    """The demonstration's rail: its old gold reddened in one place, its repair plain."""
    scene = build_scene(PICTURES[0])
    _, raised = rail_shading(rng)
    patchy = np.clip(1.0 + 0.5 * blotches(rng, 6.0, 40.0), 0.0, 2.0)
    flat = np.ones_like(raised)
    places = {
        "high": raised**2,
        "deep": 1.0 - raised,
        "dusty": 1.0 - raised,
        "handled": raised**2,
        "everywhere": 0.5 * flat,
        "nowhere": 0.0 * flat,
    }
    wear = np.where(scene.which == 0, 0.25 * patchy * places[where], 0.0)
    materials = scene.materials
    if where in ("dusty", "handled"):  # grey instead of the red bole
        materials = (replace(materials[0], worn=np.full(36, 0.4)), *materials[1:])
    return replace(scene, wear=np.asarray(wear), materials=materials)


def _photographed(scene: Scene, path: Path) -> Path:
    shot = PICTURES[0].shot
    signal = scene.signal(raw_weights(shot.camera, shot.light))
    save_jpeg(take(signal, shot, np.random.default_rng(1)), path, "invented")
    return path


@pytest.mark.proof
@pytest.mark.parametrize(
    ("where", "words"),
    [
        ("high", "redder on the high points"),
        ("deep", "redder in the recesses"),
        ("dusty", "greyer in the recesses, as where dust lies"),
        ("handled", "greyer on the high points and browner in the recesses"),
        ("everywhere", None),
        ("nowhere", None),
    ],
)
def test_wear_is_told_where_it_lies(
    run: Run, tmp_path: Path, where: str, words: str | None
) -> None:
    path = _photographed(_worn_scene(where, np.random.default_rng(6)), tmp_path / "worn.jpg")
    told = run("compare", path, *BEADS_OF).out
    assert ("On the relief" in told) == (words is not None)
    assert "breaks up" not in told  # beads in the light are none
    assert words is None or words in told
    assert ("cannot be undone" in told) == ("rub the high points" in told) == (where == "high")
