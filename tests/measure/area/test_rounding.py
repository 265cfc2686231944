"""Areas saved as JPEG: the stated variance holds what saving did to their means."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from tests.cases import in_ci
from tests.measure.compression_table import saved_pairs
from tonematch.photo.decode import load_photo


@pytest.mark.parametrize(
    ("kind", "quality", "sampling"),
    [
        ("nearly flat", 60, "4:2:0"),
        ("mottled", 75, "4:4:4"),
        ("flat", 95, "4:4:4"),
        in_ci("noisy", 60, "4:4:4"),
        in_ci("mottled", 85, "4:2:0"),
        in_ci("noisy", 95, "4:2:0"),
    ],
)
def test_differences_lie_in_their_intervals(kind: str, quality: int, sampling: str) -> None:
    found = saved_pairs(kind, quality, sampling, pairs=30)
    assert found.covered >= 0.92
    # Nor is it bought by width.
    spread = np.sqrt(np.square(found.apart).mean() / found.variances.sum(axis=1).mean())
    assert spread > 0.4


def test_sampling_and_steps_are_those_that_were_saved() -> None:
    # ITU-T T.81, tables K.1 and K.2 (DC 16 and 17; lowest waves 11 and 12, 18 and 18), of which
    # quality 75 takes the half.
    file = BytesIO()
    Image.new("RGB", (64, 48), (90, 80, 60)).save(
        file, format="JPEG", quality=75, subsampling="4:2:0"
    )
    found = load_photo(file.getvalue()).compression
    assert found is not None
    assert found.mean == (8 / 8, 9 / 8, 9 / 8)
    assert found.slope == (6 / 8, 9 / 8, 9 / 8)
    assert found.shared == 4


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_files_tell_nothing(kind: str) -> None:
    file = BytesIO()
    Image.new("RGB", (64, 48), (90, 80, 60)).save(file, format=kind)
    assert load_photo(file.getvalue()).compression is None
