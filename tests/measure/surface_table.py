"""How surely shine, angle and evenness are told: ``surface_table.py [N]``.

N pairs in each row, 40 unless given; ``--seed``, and ``--only`` for one section. All surfaces are
invented; their truth is known. A part of ``accuracy_table.py``.
"""

import argparse
import time
from collections import Counter

import numpy as np

from tests.measure.mottled import as_picture, mottled
from tests.measure.shine_cases import OTHER, SAME, evenness, glint_shift, parting
from tonematch.measure.appearance.evenness import compare_evenness
from tonematch.measure.appearance.viewing import compare_seen


def glints(count: int, seed: int) -> None:
    """Body colour under glints, by number of lamps."""
    print("\nGlints over 20 % of an area: CIEDE2000 by which they move its body colour, and by "
          "which they would move a plain mean (asked: at most 0.5)\n")  # fmt: skip
    print("| lamps | areas | median | greatest | plain mean, median |")
    print("| --- | --- | --- | --- | --- |")
    for lights in range(3, 9):
        rng = np.random.default_rng([seed, lights])
        shifts = np.array([glint_shift(lights, i % 2 == 0, rng) for i in range(count)])
        print(f"| {lights} | {count} | {np.median(shifts[:, 0]):.2f} | {shifts[:, 0].max():.2f} "
              f"| {np.median(shifts[:, 1]):.1f} |", flush=True)  # fmt: skip


def angles(count: int, seed: int) -> None:
    """Pairs that match in one light and part in another, 3 to 8 lamps."""
    print("\nPairs alike nearest the mirror, under 3 to 8 lamps\n")
    print("| CIEDE2000 apart at the flop | pairs | flagged | asked |")
    print("| --- | --- | --- | --- |")
    for flop, asked in ((3.0, "at least 95 %"), (0.0, "few")):
        rng = np.random.default_rng([seed, 11])
        found = [parting(flop, 3 + i % 6, rng) for i in range(count)]
        share = np.mean([c.parts for c in found])
        print(f"| {flop:g} | {count} | {share:.1%} | {asked} |", flush=True)


def evennesses(count: int, seed: int) -> None:
    """Mottled pairs of one mean."""
    print("\nMottled pairs of equal means: spread in L* and scale in pixels of both\n")
    print("| original | repair | pairs | flagged | asked | verdicts | ms each |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    cases = [(kind, kind, "at most 5 %") for kind in SAME]
    cases += [(one, other, "at least 95 %") for one, other in OTHER]
    for row, (one, other, asked) in enumerate(cases):
        rng = np.random.default_rng([seed, 3, row])
        start = time.perf_counter()
        verdicts = Counter(evenness(one, other, rng).verdict for _ in range(count))
        each = (time.perf_counter() - start) / count * 1000
        share = 1 - (verdicts["alike"] + verdicts["not known"]) / count
        told = ", ".join(f"{number} {verdict}" for verdict, number in verdicts.most_common())
        print(f"| {one[0]:g}, {one[1]:g} | {other[0]:g}, {other[1]:g} | {count} | {share:.1%} "
              f"| {asked} | {told} | {each:.0f} |", flush=True)  # fmt: skip


def distances(seed: int) -> None:
    """Fine mottling as it is seen from near and far, 0.2 mm per pixel."""
    print("\nSpread 2.5 beside 0.5 as seen from afar: mean CIEDE2000 from the mean colour\n")
    print("| scale of the patches, mm | metres | original | repair | evenness |")
    print("| --- | --- | --- | --- | --- |")
    for scale in (2.0, 4.0, 8.0):
        rng = np.random.default_rng([seed, 8])
        one, other = (as_picture(mottled(rng, s, scale, shape=(150, 150)), 0.2) for s in (2.5, 0.5))
        near = compare_evenness(one, other)
        for metres in (0.3, 0.7, 3.0, 10.0):
            seen = compare_seen(one, other, near, metres, 2.0)
            print(f"| {scale * 0.4:.1f} | {metres:g} | {seen.mottle_original:.2f} "
                  f"| {seen.mottle_repair:.2f} | {seen.evenness} |")  # fmt: skip


SECTIONS = {"glints": glints, "angles": angles, "evenness": evennesses}


def main() -> None:
    """Print every section, or one of them."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("pairs", nargs="?", type=int, default=40)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--only", choices=SECTIONS)
    given = arguments.parse_args()
    for name, section in SECTIONS.items():
        if given.only in (None, name):
            section(given.pairs, given.seed)
    if given.only is None:
        distances(given.seed)


if __name__ == "__main__":
    main()
