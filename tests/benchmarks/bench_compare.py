"""The whole process `tonematch compare` on a 24-megapixel JPEG, beside what it cannot do without.

Run apart from the tests: ``python -m tests.benchmarks.bench_compare``. The reference, in the same
run, is a process that imports the same libraries and decodes the same picture, and no more.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tonematch.measure.core import Role
from tonematch.swatchbook import swatch_path

ROUNDS = 5
SIZE = (5660, 4245)
SCALE = SIZE[0] / 1600  # of the picture beside that of scene-1.jpg, whose boxes are below
BOXES: dict[Role, tuple[int, int, int, int]] = {
    "card": (714, 664, 182, 102),
    "original": (400, 400, 280, 190),
    "repair": (960, 400, 280, 190),
}

REFERENCE = """
import sys
import cv2, numpy, PIL.Image, imagecodecs, typer, scipy.special
import tonematch.cli, tonematch.in_words
cv2.imdecode(numpy.fromfile(sys.argv[1], numpy.uint8), cv2.IMREAD_COLOR)
"""


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        picture = Path(folder) / "large.jpg"
        # In a process of its own: its memory would count as that of every later child.
        maker = get_context("spawn").Process(target=make_large, args=(picture,))
        maker.start()
        maker.join()
        size = picture.stat().st_size / 1e6
        boxes = [part for name, box in BOXES.items() for part in (f"--{name}", _box(box))]
        tool = [sys.executable, "-m", "tonematch.cli", "compare", str(picture), *boxes]
        whole, bare = [], []
        for _ in range(ROUNDS):
            bare.append(_run([sys.executable, "-c", REFERENCE, str(picture)]))
            whole.append(_run(tool))
    print(f"24-megapixel JPEG of {size:.1f} MB, median of {ROUNDS} alternating rounds")
    for words, runs in (("imports and decoding alone", bare), ("tonematch compare", whole)):
        peak = max(run.mebibytes for run in runs)
        passed, busy = _medians(runs)
        print(f"{words + ':':28}{passed:.2f} s, {busy:.2f} s of processor, at most {peak:.0f} MiB")
    passed, busy = _medians(whole) / _medians(bare)
    print(f"{'ratio:':28}{passed:.2f}, of processor time {busy:.2f}")


@dataclass(frozen=True)
class Run:
    """Seconds that a process took, those of processors, and its greatest memory."""

    seconds: float
    busy: float
    mebibytes: float


def _medians(runs: Sequence[Run]) -> NDArray[np.float64]:
    """Of seconds that passed, and of seconds of processor."""
    return np.median([(run.seconds, run.busy) for run in runs], axis=0)


def make_large(picture: Path) -> None:
    with Image.open(swatch_path("demo", "scene-1.jpg")) as scene:
        large = np.asarray(scene.resize(SIZE, Image.Resampling.BICUBIC), dtype=np.int16)
    noise = np.random.default_rng(0).normal(0.0, 2.0, large.shape).astype(np.int16)
    Image.fromarray(np.clip(large + noise, 0, 255).astype(np.uint8)).save(picture, quality=92)


def _box(box: Sequence[int]) -> str:
    return ",".join(str(round(value * SCALE)) for value in box)


def _run(command: list[str]) -> Run:
    with tempfile.TemporaryFile() as out:
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=out)
        _, status, used = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - start
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode == 0
        assert out.tell() > 0 or "-c" in command
    return Run(seconds, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


if __name__ == "__main__":
    main()
