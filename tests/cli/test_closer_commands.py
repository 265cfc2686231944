"""A chart by its corners, surfaces, the map, and lustre; on painted and bundled photographs."""

import errno
import io
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.cases import in_ci
from tests.cli.commands import Run, loaded_by, refused
from tests.cli.picture_files import (
    CARD,
    CORNERS,
    NEW,
    NEW_LAB,
    OLD,
    OLD_LAB,
    chart_picture,
    lamp_pictures,
    saved,
)
from tests.measure.metal_renders import CARD_BOX, ORIGINAL_BOX, REPAIR_BOX, old_gold
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_path

SCENE = swatch_path("demo", "scene-1.jpg")
ON_CHART = ("--card", CARD, "--original", OLD, "--repair", NEW, "--json")
TURNED = "412,272,60,272,60,40,412,40"


@pytest.fixture
def chart(tmp_path: Path) -> Path:
    return chart_picture(tmp_path / "chart.png")


@pytest.fixture
def scene_areas(boxes: dict[str, str]) -> list[str]:
    return [part for role, box in boxes.items() for part in (f"--{role}", box)]


def _error(ran: Any) -> float:
    return float(delta_e_2000(ran.json["areas"]["old"]["lab"], OLD_LAB))


@pytest.mark.parametrize("corners", [CORNERS, TURNED])
def test_a_chart_by_its_corners_corrects_the_camera(run: Run, chart: Path, corners: str) -> None:
    read = ("read", chart, "--card", CARD, "--area", f"old={OLD}", "--json")
    assert _error(run(*read)) > 2.0
    assert _error(run(*read, "--chart-corners", corners)) < 0.5


def test_compare_by_a_chart_in_one_photograph_or_two(run: Run, chart: Path) -> None:
    true = float(delta_e_2000(OLD_LAB, NEW_LAB))
    one = run("compare", chart, *ON_CHART, "--chart-corners", CORNERS)
    two = run("compare", chart, chart, *ON_CHART, "--chart-corners", CORNERS,
              "--chart-corners2", TURNED)  # fmt: skip
    for ran in (one, two):
        assert abs(ran.json["delta_e_2000"] - true) < 0.2


def test_a_profile_by_corners_serves_pictures_without_them(
    run: Run, chart: Path, tmp_path: Path
) -> None:
    out = tmp_path / "lamp.json"
    made = run("profile", chart, "--card", CARD, "--chart-corners", CORNERS, "--out", out)
    assert made.status == 0
    assert "24 patches" in made.out
    read = ("read", chart, "--card", CARD, "--area", f"old={OLD}", "--json")
    assert _error(run(*read, "--camera-profile", out)) < 0.5


def test_a_profile_is_never_written_over_anything(run: Run, chart: Path) -> None:
    before = chart.read_bytes()
    ran = run("profile", chart, "--card", CARD, "--chart-corners", CORNERS, "--out", chart)
    refused(ran, "exists already")
    assert chart.read_bytes() == before


def test_a_full_disk_leaves_no_half_profile(
    run: Run, chart: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, f"no space for file {descriptor}")

    monkeypatch.setattr(os, "fsync", full)
    out = tmp_path / "lamp.json"
    ran = run("profile", chart, "--card", CARD, "--chart-corners", CORNERS, "--out", out)
    refused(ran, "on a disk with room")
    assert list(tmp_path.iterdir()) == [chart]


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ("60,40,412,40,412,272", "eight numbers"),
        ("60,40,412,40,412,272,60,nan", "eight numbers"),
        ("60,40,412,40,412,272,60,x", "eight numbers"),
        ("60,40,60,40,60,40,60,40", "has no size"),
        ("60,40,412,40,412,272,60,2720", "does not have its colours"),
        ("500,180,600,180,600,260,500,260", "does not have its colours"),
    ],
)
def test_bad_corners(run: Run, chart: Path, corners: str, words: str) -> None:
    refused(run("compare", chart, *ON_CHART, "--chart-corners", corners), words)


def test_a_chart_that_is_not_found_may_be_marked(run: Run, scene_areas: list[str]) -> None:
    refused(run("compare", SCENE, *scene_areas, "--chart"), "--chart-corners")
    ran = run("compare", SCENE, *scene_areas, "--chart-corners2", CORNERS)
    refused(ran, "need a second photograph")


@pytest.mark.proof
def test_a_plain_comparison_waits_for_nothing_that_was_not_asked(scene_areas: list[str]) -> None:
    loaded = loaded_by("compare", SCENE, *scene_areas)
    assert "tonematch.measure.comparison" in loaded
    for waited in ("sklearn", "scipy.stats", "colour", "streamlit", "sqlalchemy",
                   "tonematch.measure.appearance.look"):  # fmt: skip
        assert waited not in loaded, waited


def test_surfaces_are_compared_only_when_asked(run: Run, scene_areas: list[str]) -> None:
    plain = run("compare", SCENE, *scene_areas, "--json").json
    even = run("compare", SCENE, *scene_areas, "--evenness", "--json").json
    assert not {"evenness", "seen_from", "map"} & set(plain)
    assert even["seen_from"] == []
    # The rendering mottles the old gold and leaves the new even (render_demo.py).
    assert even["evenness"]["verdict"] == "too even"
    mottle = even["evenness"]["mottle"]
    assert mottle["original"] > 2 * mottle["repair"]
    assert {name: even[name] for name in plain} == plain


@pytest.mark.proof
def test_fine_mottling_is_lost_from_afar(run: Run, tmp_path: Path) -> None:
    """A chequer of 2 mm squares, 1 mm a pixel: from 10 m a cycle spans 1.4 minutes of arc.

    That is at the limit of what the eye resolves (one minute a line, the usual chart of letters;
    from memory); squares of 20 mm are far above it from 3 m, 23 minutes each.
    """
    light = np.full((260, 420, 3), 0.05)
    light[20:120, 20:120] = 0.18
    chequer = np.indices((100, 100)).sum(axis=0) // 2 % 2
    light[20:120, 160:260] = np.where(chequer, 0.36, 0.28)[..., None] * (1.0, 0.8, 0.4)
    light[20:120, 300:400] = 0.32 * np.array((1.0, 0.8, 0.4))
    areas = ("--card", "25,25,90,90", "--original", "160,20,100,100", "--repair", "300,20,100,100")
    path = saved(light, tmp_path / "chequer.png", noise=0.003)
    ran = run("compare", path, *areas, "--card-width", 90, "--seen-from", 10, "--json")
    metres = [seen["metres"] for seen in ran.json["seen_from"]]
    assert metres == [0.7, 3.0, 10.0]
    assert ran.json["evenness"]["verdict"] == "too even"
    assert ran.json["seen_from"][-1]["as_one"]
    # A card ten times as wide: the squares are ten times as large, and stay in sight.
    far = run("compare", path, *areas, "--card-width", 900, "--json").json["seen_from"]
    assert not any(seen["as_one"] for seen in far)
    told = run("compare", path, *areas, "--card-width", 90).out
    assert "From 3 m the repair" in told
    assert "Evenness: too even" in told


def test_the_map_shows_where_the_repair_departs(
    run: Run, scene_areas: list[str], tmp_path: Path
) -> None:
    out = tmp_path / "map.png"
    ran = run("compare", SCENE, *scene_areas, "--map", out, "--json")
    assert ran.json["map"] == str(out)
    with Image.open(io.BytesIO(out.read_bytes())) as picture:
        assert (picture.format, picture.mode) == ("PNG", "L")
        grey = np.asarray(picture)[40:220]
    # The areas begin at a quarter and at three fifths of the width; far colours are dark.
    old, new = grey[:, 300:400].mean(), grey[:, 650:750].mean()
    assert new < old - 60


def test_a_map_is_never_written_over_anything(
    run: Run, scene_areas: list[str], tmp_path: Path
) -> None:
    kept = tmp_path / "kept.png"
    kept.write_bytes(b"mine")
    for path, words in (
        (kept, "exists already"),
        (tmp_path / "map.jpg", "let the name of the map end in .png"),
        (tmp_path / "nowhere" / "map.png", "cannot be written"),
        (tmp_path / ("m" * 300 + ".png"), "cannot be written"),
    ):
        refused(run("compare", SCENE, *scene_areas, "--map", path), words)
    assert kept.read_bytes() == b"mine"
    assert list(tmp_path.iterdir()) == [kept]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--card-width", -60), "-60 mm"),
        (("--card-width", 0), "0 mm"),
        (("--card-width", "nan"), "nan mm"),
        (("--card-width", 60, "--card-height", 60), "does not have the shape"),
        (("--card-height", 60), "--card-width"),
        (("--card-width", "wide"), "--card-width"),
        (("--seen-from", 2), "--card-width"),
        (("--card-width", 60, "--seen-from", -2), "distance of -2 m"),
        in_ci(("--card-width", 60, "--seen-from", 0), "distance of 0 m"),
        in_ci(("--card-width", 60, "--seen-from", "inf"), "distance of inf m"),
    ],
)
def test_bad_scales(
    run: Run, scene_areas: list[str], options: tuple[object, ...], words: str
) -> None:
    refused(run("compare", SCENE, *scene_areas, *options, "--json"), words)


def _inner(box: tuple[int, int, int, int]) -> str:
    x, y, w, h = box
    return f"{x + 4},{y + 4},{w - 8},{h - 8}"


MARKS = ("--card", _inner(CARD_BOX), "--original", _inner(ORIGINAL_BOX), "--repair",
         _inner(REPAIR_BOX))  # fmt: skip


@pytest.mark.proof
@pytest.mark.parametrize(
    ("height", "verdict"), [(3.0, "alike"), (6.0, "too shiny"), (1.2, "too dull")]
)
def test_lustre_by_lamps_that_move(run: Run, tmp_path: Path, height: float, verdict: str) -> None:
    """One body under gleams of three heights, rendered with two lobes (Ward 1992)."""
    photos = lamp_pictures(tmp_path, old_gold(0.2, 0.05), old_gold(0.2, 0.05, height=height))
    found = run("lustre", *photos, *MARKS, "--json").json
    assert found["verdict"] == verdict
    assert found["body"]["delta_e_2000"] < 0.5
    assert len(found["by_light"]) == 5
    assert found["colours_part"] == (verdict != "alike")
    low, high = found["stops_interval_95"]
    assert low <= found["stops"] <= high
    told = run("lustre", *photos, *MARKS).out
    assert f"\nLustre: {verdict}" in told
    # The first lamp stands 4 degrees from the mirror direction, the third 18 degrees.
    assert "The compared picture looks into the mirror" in told
    beside = run("lustre", *photos[2:], *photos[:2], *MARKS).out
    assert "Another looks into the mirror (of these pictures: 4), the compared one beside" in beside
    assert "Body colours, off the mirror direction" in told
    assert ("The colours part with the lamp" in told) == found["colours_part"]


def test_two_pictures_tell_no_lustre(run: Run, tmp_path: Path) -> None:
    photos = lamp_pictures(tmp_path, old_gold(0.2, 0.05), old_gold(0.2, 0.05), lamps=2)
    found = run("lustre", *photos, *MARKS, "--json").json
    assert found["verdict"] == "not known"
    assert found["stops_interval_95"] == [None, None]
    assert "three or more" in found["words"]


def test_bad_pictures_for_lustre(run: Run, tmp_path: Path) -> None:
    photos = lamp_pictures(tmp_path, old_gold(0.2, 0.05), old_gold(0.2, 0.05), lamps=3)
    refused(run("lustre", *MARKS), "PHOTOS is missing")
    refused(run("lustre", photos[0], photos[1], photos[0], *MARKS), "same picture")
    refused(run("lustre", *photos, tmp_path / "none.png", *MARKS), "no file")
    refused(run("lustre", photos[0], photos[1], SCENE, *MARKS), "size")
    over = (*MARKS[:4], "--repair", MARKS[3])
    refused(run("lustre", *photos, *over), "overlap")
    refused(run("lustre", *photos, *MARKS, "--tolerance", -1), "tolerance of -1")
