"""A coarsely compressed file is told, with what to do, and counts in the interval."""

from pathlib import Path

import pytest
from PIL import Image

from tests.cli.commands import Run
from tests.measure.painted import GREY, encode, painted_light

CARD, OLD, NEW = (20, 20, 90, 90), (150, 20, 90, 90), (280, 20, 90, 90)
BOXES = [",".join(str(value) for value in (x + 20, y + 20, w - 40, h - 40))
         for x, y, w, h in (CARD, OLD, NEW)]  # fmt: skip


def compare(run: Run, folder: Path, **saving: object) -> tuple[str, float]:
    """What is printed, and the interval's width."""
    light = painted_light({CARD: GREY, OLD: (62, 7, 30), NEW: (63, 7, 31)}, (390, 130), 0.01)
    photo = folder / "pair.jpg"
    Image.fromarray(encode(0.8 * light, 8)).save(photo, **saving)  # type: ignore[arg-type]
    card, old, new = BOXES
    typed = ["compare", photo, "--card", card, "--original", old, "--repair", new]
    low, high = run(*typed, "--json").json["interval_95"]
    ran = run(*typed)
    return ran.out + ran.err, high - low


def test_quality_60_is_told_and_widens_the_interval(run: Run, tmp_path: Path) -> None:
    said, width = compare(run, tmp_path, quality=60)
    assert "coarsely compressed" in said
    assert "camera's own file" in said
    assert width > 1.2 * compare(run, tmp_path, quality=92, subsampling="4:4:4")[1]


@pytest.mark.parametrize("sampling", ["4:4:4", "4:2:0"])
def test_quality_90_is_not_told(run: Run, tmp_path: Path, sampling: str) -> None:
    assert "compressed" not in compare(run, tmp_path, quality=90, subsampling=sampling)[0]
