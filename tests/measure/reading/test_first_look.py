"""A photograph is judged before anything is marked on it."""

from io import BytesIO

import cv2
import numpy as np
import pytest
from PIL import Image

from tonematch.measure.reading.first_look import first_look
from tonematch.photo.decode import load_photo
from tonematch.swatchbook import swatch_path


def _told(blur: float = 0.0, light: float = 1.0, size: float = 1.0, quality: int = 95) -> str:
    """Of the demonstration's first picture, made worse."""
    with Image.open(swatch_path("demo", "scene-1.jpg")) as picture:
        sized = picture.resize((round(picture.width * size), round(picture.height * size)))
    sharp = np.asarray(sized).astype(np.float64)
    codes = np.asarray(cv2.GaussianBlur(sharp, (0, 0), blur) if blur else sharp)
    file = BytesIO()
    worse = Image.fromarray(np.clip(light * codes, 0, 255).astype(np.uint8))
    worse.save(file, "JPEG", quality=quality)
    return "\n".join(first_look(load_photo(file.getvalue())))


def test_nothing_is_wrong_with_a_good_photograph_but_its_missing_profile() -> None:
    told = _told()
    assert "does not say how its colours are meant" in told
    assert len(told.splitlines()) == 1


@pytest.mark.parametrize(
    ("fault", "words", "remedy"),
    [
        ({"blur": 12.0}, "blurred over about", "let it focus"),
        ({"light": 1.6}, "clipped white", "less exposure"),
        ({"size": 0.4}, "small (0.3 megapixels)", "the camera's own file"),
        ({"quality": 20}, "coarsely compressed", "quality 90 or more"),
    ],
)
def test_a_fault_is_told_with_what_to_do_better(
    fault: dict[str, float], words: str, remedy: str
) -> None:
    told = _told(**fault)  # type: ignore[arg-type]
    (line,) = (line for line in told.splitlines() if words in line)
    assert remedy in line
