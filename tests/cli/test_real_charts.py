"""What a person is told of real photographs of charts, read by commands, beside what is true.

Sources and licences: tests/measure/chart_photographs.py, and the READMEs beside the photographs.
"""

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli.commands import Ran, Run
from tests.measure.chart_photographs import (
    CARD,
    GREYS,
    NO_PHOTOS,
    PHOTOS,
    ChartPhotograph,
    are_there,
    chart_photograph,
)
from tests.measure.real_photographs import NEAR, pairs_of, true_difference
from tonematch.measure.core import Area

pytestmark = [pytest.mark.proof, pytest.mark.skipif(not are_there(), reason=NO_PHOTOS)]

ASIDE = [
    f"phones/jtvd_color_checker_{name}_.jpg" for name in ("1", "3", "5", "7", "mini_2", "mini_5")
]
"""Of one phone; most are held aside from choices (chart_photographs.py says which)."""
SIDE = 90  # of a patch that is put beside the picture, pixels


def drawn_pair(picture: ChartPhotograph, seed: int) -> tuple[str, str]:
    """Two colours of a chart that differ by less than 15, none of them at its corners."""
    corners = [list(picture.areas)[k] for k in (0, 5, 18, 23)]
    names = [name for name in picture.areas if name not in (CARD, *GREYS, *corners)]
    pairs = [pair for pair in pairs_of(picture, names) if true_difference(picture, pair) < NEAR]
    return pairs[np.random.default_rng(seed).integers(len(pairs))]


def shape(area: Area) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in area.corners)


def card(picture: ChartPhotograph) -> list[str]:
    """The middle grey as the card, by its published colour."""
    lab = ",".join(f"{value:.4f}" for value in picture.lab[CARD])
    return ["--card", shape(picture.areas[CARD]), "--card-lab", lab]


def interval(ran: Ran) -> tuple[float, float]:
    """The interval as it is told in words."""
    found = re.search(r"CIEDE2000 [\d.]+ \(95 % interval ([\d.]+) to ([\d.]+)\)", ran.out)
    assert found is not None, ran
    return float(found[1]), float(found[2])


def pair_moved_out(picture: ChartPhotograph, path: Path, pair: tuple[str, str], out: Path) -> None:
    """The photograph with two patches of its chart beside it, and the patches themselves white.

    So the chart teaches nothing by the two that are then compared.
    """
    with Image.open(path) as opened:
        wide = Image.new("RGB", (opened.width + 2 * SIDE, opened.height), (60, 60, 60))
        wide.paste(opened, (0, 0))
        for k, name in enumerate(pair):
            corners = np.array(picture.areas[name].corners)
            middle, half = corners.mean(axis=0), np.ptp(corners, axis=0) / 2
            inner = [round(v) for v in (*(middle - 0.7 * half), *(middle + 0.7 * half))]
            patch = opened.crop(tuple(inner)).resize((SIDE, SIDE), Image.Resampling.NEAREST)
            wide.paste(patch, (opened.width + k * SIDE, 0))
            whole = [round(v) for v in (*(middle - 1.2 * half), *(middle + 1.2 * half))]
            wide.paste((255, 255, 255), tuple(whole))
        wide.save(out, icc_profile=opened.info.get("icc_profile"))


def told_beside_true(
    run: Run, picture: ChartPhotograph, pair: tuple[str, str], *typed: object
) -> bool:
    """Whether the interval that a comparison tells of two patches holds their true difference."""
    low, high = interval(run("compare", *typed, *card(picture)))
    return low <= true_difference(picture, pair) <= high


def test_with_a_chart_the_interval_that_is_told_holds_what_is_true(
    run: Run, tmp_path: Path
) -> None:
    held = []
    for k, name in enumerate(ASIDE):
        picture, out = chart_photograph(name), tmp_path / f"{k}.png"
        pair = drawn_pair(picture, k)
        pair_moved_out(picture, PHOTOS / name, pair, out)
        left, side = picture.photo.width + 12, SIDE - 24
        old, new = (f"{left + n * SIDE},12,{side},{side}" for n in (0, 1))
        typed = (out, "--chart", "--original", old, "--repair", new)
        held.append(told_beside_true(run, picture, pair, *typed))
    assert sum(held) >= len(held) - 1  # 19 of 20, of six


def test_with_a_saved_profile_it_holds_in_other_pictures_of_the_camera(
    run: Run, tmp_path: Path
) -> None:
    first, *later = map(chart_photograph, ASIDE)
    profile = tmp_path / "phone.json"
    assert "24 patches" in run("profile", PHOTOS / ASIDE[0], *card(first), "--out", profile).out
    held = []
    for k, (name, picture) in enumerate(zip(ASIDE[1:], later, strict=True)):
        pair = drawn_pair(picture, k)
        old, new = (shape(picture.areas[patch]) for patch in pair)
        typed = (PHOTOS / name, "--camera-profile", profile, "--original", old, "--repair", new)
        held.append(told_beside_true(run, picture, pair, *typed))
    assert sum(held) >= len(held) - 1
