"""How surely shine, angle and evenness are told: ``python tests/measure/surface_table.py [N]``.

N pairs in each row, 40 unless given. All surfaces are invented; their truth is known.
"""

import sys
import time
from collections import Counter
from pathlib import Path

if __name__ == "__main__":  # the scripts there import one another by name
    root = Path(__file__).resolve().parents[2]
    sys.path[:0] = [str(root / "swatches"), str(root / "tests" / "measure")]

import numpy as np
from mottled import as_picture, mottled
from shine_cases import OTHER, SAME, evenness, glint_shift, parting

from tonematch.measure.seen_comparison import compare_seen
from tonematch.measure.surface import compare_evenness


def glints(count: int) -> None:
    """Body colour under glints, by number of lamps."""
    print("glints over 20 % of an area: CIEDE2000 by which they move its colour")
    print(f"{'lamps':>5} {'pairs':>5} {'median':>7} {'greatest':>9} {'plain mean':>11}")
    for lights in range(3, 9):
        rng = np.random.default_rng(lights)
        shifts = np.array([glint_shift(lights, i % 2 == 0, rng) for i in range(count)])
        print(f"{lights:5} {count:5} {np.median(shifts[:, 0]):7.2f} {shifts[:, 0].max():9.2f} "
              f"{np.median(shifts[:, 1]):11.2f}", flush=True)  # fmt: skip


def angles(count: int) -> None:
    """Pairs that match in one light and part in another, 3 to 8 lamps."""
    print("\npairs alike nearest the mirror, apart at the flop: flagged")
    for flop in (3.0, 0.0):
        rng = np.random.default_rng(11)
        found = [parting(flop, 3 + i % 6, rng) for i in range(count)]
        share = np.mean([c.parts for c in found])
        print(f"{flop:4.1f} CIEDE2000 apart: {share:6.1%} of {count}", flush=True)


def evennesses(count: int) -> None:
    """Mottled pairs of one mean."""
    print("\nmottled pairs of equal means: spread and scale of both, flagged, milliseconds each")
    for one, other in [(kind, kind) for kind in SAME] + list(OTHER):
        rng = np.random.default_rng(3)
        start = time.perf_counter()
        verdicts = Counter(evenness(one, other, rng).verdict for _ in range(count))
        each = (time.perf_counter() - start) / count * 1000
        share = 1 - (verdicts["alike"] + verdicts["not known"]) / count
        print(f"{one!s:12} {other!s:12} {share:6.1%}  {each:5.0f}  {dict(verdicts)}", flush=True)


def distances() -> None:
    """Fine mottling as it is seen from near and far, 0.2 mm per pixel."""
    print("\nspread 2.5 beside 0.5, scale of the patches in mm: mottle seen, original and repair")
    for scale in (2.0, 4.0, 8.0):
        rng = np.random.default_rng(8)
        one, other = (as_picture(mottled(rng, s, scale, shape=(150, 150)), 0.2) for s in (2.5, 0.5))
        near = compare_evenness(one, other)
        for seen in compare_seen(one, other, near, (0.3, 0.7, 3.0, 10.0)):
            print(f"{scale * 0.4:4.1f} mm from {seen.metres:4.1f} m: {seen.mottle_original:5.2f} "
                  f"{seen.mottle_repair:5.2f}  {seen.evenness}")  # fmt: skip


if __name__ == "__main__":
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    glints(pairs)
    angles(pairs)
    evennesses(pairs)
    distances()
