"""Large pictures that are open together leave memory for the next one."""

import re
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import ExifTags, Image

from tonematch.photo.decode import load_photo
from tonematch.photo.on_disk import LARGE

STATUS = Path("/proc/self/status")


def own_memory() -> int:
    """Bytes of memory that are this process's own, and no file's."""
    found = re.search(r"RssAnon:\s+(\d+) kB", STATUS.read_text())
    assert found is not None
    return 1024 * int(found[1])


@pytest.mark.proof
@pytest.mark.skipif(not STATUS.exists(), reason="needs to see how much memory is its own")
def test_pictures_that_are_open_together_take_less_than_one_of_them() -> None:
    codes = np.tile(np.arange(256, dtype=np.uint8), (6000, 22))[..., None] + np.zeros(3, np.uint8)
    exif, file = Image.Exif(), BytesIO()
    exif[ExifTags.Base.Orientation] = 3  # upside down
    Image.fromarray(codes).save(file, "TIFF", exif=exif)
    before = own_memory()
    photos = [load_photo(file.getvalue()) for _ in range(3)]
    assert own_memory() - before < LARGE < codes.nbytes
    for photo in photos:
        assert np.array_equal(photo.encoded, codes[::-1, ::-1])
