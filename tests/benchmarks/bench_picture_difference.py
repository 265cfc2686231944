"""CIEDE2000 of a whole picture beside colour-science on the same pixels, in one run.

Run apart from the tests: ``python -m tests.benchmarks.bench_picture_difference``. Our function
shares the pixels among the machine's processors, the reference works on one; the ratio of
processor time leaves that advantage out.
"""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.difference import picture_difference

PIXELS = 2_000_000
ROUNDS = 5


def main() -> None:
    """Measure and print."""
    random = np.random.default_rng(0)
    low, high = [20.0, -10.0, 0.0], [98.0, 30.0, 70.0]
    one = random.uniform(low, high, (PIXELS, 3)).astype(np.float32)
    other = np.asarray(one + random.normal(0.0, 3.0, one.shape), dtype=np.float32)
    reference = _timed(lambda: colour.delta_E(one, other, method="CIE 2000"))
    ours = _timed(lambda: picture_difference(one, other))
    wall, busy = reference.wall / ours.wall, reference.busy / ours.busy
    print(f"{PIXELS:,} pixels of gold colours, best of {ROUNDS}, {os.cpu_count()} processors")
    print(f"colour.delta_E, CIE 2000: {reference.wall:.2f} s, {reference.busy:.2f} s of processor")
    print(f"picture_difference:       {ours.wall:.3f} s, {ours.busy:.3f} s of processor")
    print(f"ratio:                    {wall:.1f}, of processor time {busy:.1f}")
    print(f"greatest error:           {np.abs(ours.found - reference.found).max():.5f} CIEDE2000")


@dataclass(frozen=True, eq=False)
class Timed:
    """Seconds that passed and seconds of all processors, the best of each, and the result."""

    wall: float
    busy: float
    found: NDArray[np.floating]


def _timed(run: Callable[[], NDArray[np.floating]]) -> Timed:
    wall, busy = [], []
    for _ in range(ROUNDS):
        start, worked = time.perf_counter(), time.process_time()
        found = run()
        wall.append(time.perf_counter() - start)
        busy.append(time.process_time() - worked)
    return Timed(min(wall), min(busy), found)


if __name__ == "__main__":
    main()
