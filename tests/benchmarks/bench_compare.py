"""The whole process `tonematch compare` on a 24-megapixel JPEG, beside what it cannot do without.

Run apart from the tests: ``python tests/benchmarks/bench_compare.py``. The reference, in the same
run, is a process that imports the same libraries and decodes the same picture, and no more.
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image

from tonematch.swatchbook import swatch_path

ROUNDS = 5
SIZE = (5660, 4245)
SCALE = SIZE[0] / 1600  # of the picture beside that of scene-1.jpg, whose boxes are below
BOXES = {
    "card": (714, 664, 182, 102),
    "original": (400, 400, 280, 190),
    "repair": (960, 400, 280, 190),
}

REFERENCE = """
import sys
import cv2, numpy, PIL.Image, imagecodecs, typer, scipy.special
import tonematch.cli, tonematch.forms, tonematch.measure.colour_science
cv2.imdecode(numpy.fromfile(sys.argv[1], numpy.uint8), cv2.IMREAD_COLOR)
"""


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        picture = Path(folder) / "large.jpg"
        _make(picture)
        size = picture.stat().st_size / 1e6
        boxes = [part for name, box in BOXES.items() for part in (f"--{name}", _box(box))]
        tool = [sys.executable, "-m", "tonematch.cli", "compare", str(picture), *boxes]
        whole, bare = [], []
        for _ in range(ROUNDS):
            bare.append(_seconds([sys.executable, "-c", REFERENCE, str(picture)]))
            whole.append(_seconds(tool))
    print(f"24-megapixel JPEG of {size:.1f} MB, median of {ROUNDS} alternating rounds")
    print(f"importing the libraries and decoding: {np.median(bare):.2f} s")
    print(f"tonematch compare, whole process:     {np.median(whole):.2f} s")
    print(f"ratio:                                {np.median(whole) / np.median(bare):.2f}")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"greatest memory of any of them:       {peak:.0f} MiB")


def _make(picture: Path) -> None:
    with Image.open(swatch_path("demo", "scene-1.jpg")) as scene:
        large = np.asarray(scene.resize(SIZE, Image.Resampling.BICUBIC), dtype=np.int16)
    noise = np.random.default_rng(0).normal(0.0, 2.0, large.shape).astype(np.int16)
    Image.fromarray(np.clip(large + noise, 0, 255).astype(np.uint8)).save(picture, quality=92)


def _box(box: Sequence[int]) -> str:
    return ",".join(str(round(value * SCALE)) for value in box)


def _seconds(command: list[str]) -> float:
    start = time.perf_counter()
    done = subprocess.run(command, check=True, capture_output=True)
    assert done.stdout or "-c" in command
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
