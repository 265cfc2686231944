"""A coarsely compressed file is told, with what to do, and counts in the interval."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli.commands import Run
from tests.measure.painted import GREY, encode, painted_light

CARD, OLD, NEW = (20, 20, 90, 90), (150, 20, 90, 90), (280, 20, 90, 90)


def compare(
    run: Run, folder: Path, within: int = 20, worn: bool = False, **saving: object
) -> tuple[str, float]:
    """What is printed, and the interval's width; areas marked so many pixels within each field.

    Worn gold shows bole on some thirtieth of it, in squares of 5 pixels.
    """
    light = painted_light({CARD: GREY, OLD: (62, 7, 30), NEW: (63, 7, 31)}, (390, 130), 0.01)
    if worn:
        showing = np.random.default_rng(4).random((26, 78)) < 0.03
        showing[:, :24] = False
        light[np.kron(showing, np.ones((5, 5), dtype=bool))] *= (0.5, 0.25, 0.2)
    photo = folder / "pair.jpg"
    Image.fromarray(encode(0.8 * light, 8)).save(photo, **saving)  # type: ignore[arg-type]
    card, old, new = (
        ",".join(str(value) for value in (x + within, y + within, w - 2 * within, h - 2 * within))
        for x, y, w, h in (CARD, OLD, NEW)
    )
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


@pytest.mark.parametrize(
    ("within", "sampling", "said"),
    [(2, "4:2:0", 3), (6, "4:2:0", 3), (12, "4:2:0", 0), (2, "4:4:4", 3), (6, "4:4:4", 0)],
)
def test_an_area_that_touches_another_surface_is_to_be_marked_further_in(
    run: Run, tmp_path: Path, within: int, sampling: str, said: int
) -> None:
    """Within half a block of chroma: 8 pixels of 16 at 4:2:0, 4 of 8 at 4:4:4 (ITU-T T.81, A.1)."""
    words = compare(run, tmp_path, within, quality=92, subsampling=sampling)[0]
    assert words.count("mark it a little further in") == said


def test_worn_places_of_the_gold_itself_are_no_other_surface(run: Run, tmp_path: Path) -> None:
    assert "further in" not in compare(run, tmp_path, quality=92, worn=True)[0]


def test_nothing_is_mixed_where_nothing_was_lost(run: Run, tmp_path: Path) -> None:
    assert "further in" not in compare(run, tmp_path, 2, format="PNG")[0]
