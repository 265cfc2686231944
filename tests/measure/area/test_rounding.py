"""Areas saved with loss: the stated variance holds what saving did to their means."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from tests.cases import in_ci
from tests.measure.compression_table import file_of, saved_pairs
from tonematch.photo.decode import load_photo

PLAIN = Image.new("RGB", (64, 48), (90, 80, 60))


@pytest.mark.parametrize(
    ("kind", "form", "quality", "sampling"),
    [
        ("nearly flat", "JPEG", 60, "4:2:0"),
        ("mottled", "JPEG", 75, "4:4:4"),
        ("flat", "JPEG", 95, "4:4:4"),
        ("flat", "WEBP", 75, "4:2:0"),
        in_ci("flat", "HEIC", 50, "4:2:0"),
        in_ci("noisy", "JPEG", 60, "4:4:4"),
        in_ci("mottled", "JPEG", 85, "4:2:0"),
        in_ci("noisy", "JPEG", 95, "4:2:0"),
        in_ci("flat", "AVIF", 85, "4:2:0"),
    ],
)
def test_differences_lie_in_their_intervals(
    kind: str, form: str, quality: int, sampling: str
) -> None:
    found = saved_pairs(kind, quality, sampling, 30 if form == "JPEG" else 15, form)
    assert found.covered >= 0.92
    # Nor is it bought by width.
    spread = np.sqrt(np.square(found.apart).mean() / found.variances.sum(axis=1).mean())
    assert spread > 0.4


def test_sampling_and_steps_are_those_that_were_saved() -> None:
    # ITU-T T.81, tables K.1 and K.2 (DC 16 and 17; lowest waves 11 and 12, 18 and 18), of which
    # quality 75 takes the half.
    found = load_photo(file_of(PLAIN, "JPEG", 75, "4:2:0")).compression
    assert found is not None
    assert found.mean == (8 / 8, 9 / 8, 9 / 8)
    assert found.slope == (6 / 8, 9 / 8, 9 / 8)
    assert found.shared == 4


@pytest.mark.parametrize(("quality", "index"), [(0, -1), (100, 0)])
def test_a_lossy_webp_tells_the_steps_that_it_was_saved_with(quality: int, index: int) -> None:
    """Its encoder takes the last index at quality 0 and the first at 100 (libwebp, from memory)."""
    found = load_photo(file_of(PLAIN, "WEBP", quality, "4:2:0")).compression
    assert found is not None
    assert found.slope[0] == pytest.approx(255 / 219 * (4, 284)[index] / 8)
    assert found.mean[0] == pytest.approx(255 / 219 * (4, 157)[index] / 32)
    assert (found.shared, found.assumed) == (4, False)
    assert bool(found.notes) == (quality == 0)


@pytest.mark.parametrize("form", ["HEIC", "AVIF"])
@pytest.mark.parametrize(("sampling", "shared"), [("4:2:0", 4), ("4:2:2", 2), ("4:4:4", 1)])
def test_heic_and_avif_tell_their_sampling_alone(form: str, sampling: str, shared: int) -> None:
    found = load_photo(file_of(PLAIN, form, 70, sampling)).compression
    assert found is not None
    assert (found.shared, found.assumed, found.notes) == (shared, True, ())


def test_nothing_is_said_of_files_that_lose_nothing() -> None:
    for saving in ({"format": "PNG"}, {"format": "WEBP", "lossless": True}):
        file = BytesIO()
        PLAIN.save(file, **saving)
        assert load_photo(file.getvalue()).compression is None
