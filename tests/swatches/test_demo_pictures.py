"""The demonstration photographs: what they say of themselves, and that they can be made anew."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.demonstration import render_demo
from tonematch.swatchbook import swatch_path

DEMO = swatch_path("demo")
NAMES = [f"{picture.name}.jpg" for picture in render_demo.PICTURES]


def pixels(path: Path) -> NDArray[np.int_]:
    with Image.open(path) as image:
        return np.asarray(image).astype(int)


def part(name: str, box: list[int]) -> NDArray[np.int_]:
    x, y, w, h = box
    return pixels(DEMO / name)[y : y + h, x : x + w]


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    pictures = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["pictures"]
    assert isinstance(pictures, dict)
    return pictures


def test_every_picture_has_its_truth(truth: dict[str, Any]) -> None:
    assert sorted(truth) == sorted(NAMES) == sorted(path.name for path in DEMO.glob("*.jpg"))


@pytest.mark.proof
def test_rendering_again_gives_the_shipped_picture(tmp_path: Path, truth: dict[str, Any]) -> None:
    picture = render_demo.PICTURES[0]
    name = f"{picture.name}.jpg"
    again = json.loads(json.dumps(render_demo.render(picture, tmp_path)))
    assert again["delta_e_2000"] == pytest.approx(truth[name]["delta_e_2000"], abs=0.01)
    for area, entry in truth[name]["areas"].items():
        assert again["areas"][area]["lab"] == pytest.approx(entry["lab"], abs=0.01)
    # Another build of the JPEG library may round a code value otherwise.
    apart = np.abs(pixels(tmp_path / name) - pixels(DEMO / name))
    assert np.mean(apart) < 0.1


@pytest.mark.proof
def test_rendering_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    picture = render_demo.PICTURES[-1]
    both = []
    for folder in (tmp_path / "first", tmp_path / "second"):
        folder.mkdir()
        render_demo.render(picture, folder)
        both.append((folder / f"{picture.name}.jpg").read_bytes())
    assert both[0] == both[1]


@pytest.mark.parametrize("name", NAMES)
def test_picture_says_that_it_is_invented(name: str, truth: dict[str, Any]) -> None:
    with Image.open(DEMO / name) as image:
        exif = image.getexif()
    assert exif[271] == "tonematch render"
    assert "invented" in exif[270]
    assert truth[name]["words"].startswith("invented")


@pytest.mark.parametrize("name", NAMES)
def test_only_the_overexposed_picture_is_clipped(name: str, truth: dict[str, Any]) -> None:
    for area, entry in truth[name]["areas"].items():
        brightest = part(name, entry["box"]).max(axis=-1)
        if name == "overexposed.jpg" and area != "black card":
            assert np.mean(brightest == 255) > 0.9
        else:
            assert brightest.max() < 250


def test_pictures_are_small_enough_to_ship() -> None:
    sizes = [(DEMO / name).stat().st_size for name in NAMES]
    assert max(sizes) < 600_000
    assert sum(sizes) < 5_000_000


def test_toning_brings_the_repair_nearer(truth: dict[str, Any]) -> None:
    names = ("scene-1.jpg", "scene-2-after-1.jpg", "scene-2-after-2.jpg")
    untoned, once, twice = (truth[name]["delta_e_2000"] for name in names)
    assert untoned > once > twice
    assert twice < 2.0 < once
