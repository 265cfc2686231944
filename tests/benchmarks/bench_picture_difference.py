"""CIEDE2000 of a whole picture beside colour-science on the same pixels, in one run.

Run apart from the tests: ``python tests/benchmarks/bench_picture_difference.py``.
"""

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.colour_science import colour
from tonematch.measure.picture_difference import picture_difference

PIXELS = 2_000_000
ROUNDS = 3


def main() -> None:
    """Measure and print."""
    random = np.random.default_rng(0)
    low, high = [20.0, -10.0, 0.0], [98.0, 30.0, 70.0]
    one = random.uniform(low, high, (PIXELS, 3)).astype(np.float32)
    other = np.asarray(one + random.normal(0.0, 3.0, one.shape), dtype=np.float32)
    reference, expected = _timed(lambda: colour.delta_E(one, other, method="CIE 2000"))
    ours, found = _timed(lambda: picture_difference(one, other))
    print(f"{PIXELS:,} pixels of gold colours, best of {ROUNDS}")
    print(f"colour.delta_E, CIE 2000: {reference:.2f} s")
    print(f"picture_difference:       {ours:.3f} s")
    print(f"ratio:                    {reference / ours:.1f}")
    print(f"greatest error:           {np.abs(found - expected).max():.5f} CIEDE2000")


def _timed(run: Callable[[], NDArray[np.floating]]) -> tuple[float, NDArray[np.floating]]:
    best = np.inf
    for _ in range(ROUNDS):
        start = time.perf_counter()
        found = run()
        best = min(best, time.perf_counter() - start)
    return best, found


if __name__ == "__main__":
    main()
