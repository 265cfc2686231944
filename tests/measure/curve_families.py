"""Prints coverage under tone curves that nobody was told of: ``curve_families.py [PAIRS]``.

Each of PAIRS pairs of gold (400 unless given), truly 0 to 6 apart, is photographed by the
simulated camera beside cards of white, grey and black, and developed by a curve of each family of
``tone_families`` and, but for the file as claimed, by a rendering of ``rendering_law``; the same
pairs, lamps and cameras in every row. A raw file knows neither: the same light as a DNG, and as a
16-bit file told to be linear. Light and lens have the faults that the budget assumes.

Goals: 92 to 97 % held in every row, 94 to 97 % under the curve as claimed, wrong 'match' under 1 %
of the pairs, median width at most 2 with three tones or raw, and under the curve as claimed no more
than 1.3 times the 1.04 (three tones) and 1.16 (raw, card alone) that it was when the profile's
curve was believed but for an exponent unsure by 0.04. Held then, with curves alone, card alone and
three tones: S-curves 66 and 77 %, lifted shadows 97 and 96 %, highlights rolled off 60 and 82 %,
per-channel bends 76 and 82 %.

With three tones more hold than is asked. Of a median width of 2.2 (as claimed, pairs about 3 apart)
area, card and light alone make 1.1, under which 96 % hold there; what the curve may do between the
tones 1.0 and what a camera may make of colours 1.1, which are in proportion to the difference, and
of which that file has neither. Neither can be cut: on real charts, 9 to 15 apart, as many as asked
hold with both, and no more (``real_photographs``).
"""

import argparse
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np

from tests.demonstration.spectra import Array
from tests.measure.accuracy import retaken
from tests.measure.drawn_pairs import random_conditions
from tests.measure.rendering_law import drawn_rendering
from tests.measure.simulated_camera import (
    CARD,
    Conditions,
    Patch,
    Scene,
    developed,
    file_of,
    neutral,
    random_pair,
)
from tests.measure.tally import (
    Told,
    held,
    median_error,
    median_width,
    print_head,
    print_row,
    share,
    told,
)
from tests.measure.tone_families import CLAIMED, FAMILIES, drawn_curve
from tests.photo.dng_file import COLOUR_MATRIX, dng_file
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import CARD_ALONE, Aids
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.difference import USUAL_TOLERANCE, delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.core import Verdict
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo

WHITE, BLACK = 0.90, 0.035
"""Reflectances of the white and the black card."""
PLACES = {"white": 0, "card": 1, "black": 2, "original": 3, "repair": 4}
ALONE, THREE = "card alone", "three tones"
RAW, TOLD_LINEAR = "raw (DNG)", "16 bits, told linear"
FILES = (*FAMILIES, TOLD_LINEAR, RAW)
NEAR = 2.0


@dataclass(frozen=True)
class Case:
    """A comparison beside the truth, with its verdict at the usual tolerance."""

    told: Told
    verdict: Verdict

    @property
    def wrong_match(self) -> bool:
        """Called a match beyond the tolerance."""
        return self.verdict == "match" and self.told.true > USUAL_TOLERANCE

    @property
    def wrong_apart(self) -> bool:
        """Called no match within it."""
        return self.verdict == "no match" and self.told.true <= USUAL_TOLERANCE


Found = dict[tuple[str, str], list[Case]]
"""Cases by file (a family, or a kind of linear file) and aid."""


def one_pair(seed: Sequence[int], files: Sequence[str]) -> dict[tuple[str, str], Case]:
    """One pair in every kind of file, each with its aids."""
    rng = np.random.default_rng(seed)
    pair = random_pair(rng)
    how = replace(random_conditions(rng), exponent=1.0, exposure=rng.uniform(0.6, 0.75))
    found = {}
    for file in files:
        noise = [*seed, FILES.index(file)]
        cases = retaken(partial(in_file, pair, file, noise), how)
        found.update({(file, aid): case for aid, case in cases.items()})
    return found


def in_file(
    pair: tuple[Patch, Patch], file: str, seed: Sequence[int], how: Conditions
) -> dict[str, Case]:
    """A pair in one file, by each aid."""
    rng = np.random.default_rng(seed)
    cards = [neutral(WHITE), neutral(CARD), neutral(BLACK)]
    scene = Scene([*cards, *pair], 3)
    photo = rendered(developed(scene, how, rng), how, file, rng)
    area = {name: box_area(name, scene.box(place)) for name, place in PLACES.items()}
    encoding = Aids(encoding="linear") if file == TOLD_LINEAR else CARD_ALONE
    tones = replace(encoding, neutrals=[(area["white"], WHITE), (area["black"], BLACK)])
    true = float(delta_e_2000(pair[0].lab, pair[1].lab))
    found = {}
    for aid, aids in ((ALONE, encoding), (THREE, tones)):
        calibration = calibrate(photo, area["card"], card_from_reflectance(CARD), aids)
        original, repair = (
            read_area(photo, area[name], calibration) for name in ("original", "repair")
        )
        comparison = compare(original, repair)
        found[aid] = Case(told(true, comparison), comparison.verdict)
    return found


def rendered(light: Array, how: Conditions, file: str, rng: np.random.Generator) -> Photo:
    """The photograph that the camera makes of light."""
    if file == RAW:
        return load_photo(dng_file(light @ camera_rgb().T), "simulated")
    if file == TOLD_LINEAR:
        return load_photo(file_of(light, replace(how, gamma=1.0, quality=None)), "simulated")
    seen = drawn_curve(file, rng)(light)
    if file != CLAIMED:
        seen = drawn_rendering(rng)(seen)
    return load_photo(file_of(seen, how), "simulated")


@cache
def camera_rgb() -> Array:
    """Linear sRGB to the camera RGB that the DNG's matrix is for."""
    return np.asarray(np.array(COLOUR_MATRIX) @ colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ)


def many_pairs(count: int, seed: int, files: Sequence[str]) -> Found:
    """Cases of `count` pairs."""
    found: Found = defaultdict(list)
    for k in range(count):
        for row, case in one_pair((seed, k), files).items():
            found[row].append(case)
    return found


def print_found(found: Found) -> None:
    """The table."""
    print_head("Simulated pairs of gold, truly 0 to 6 apart; interval of each share exact",
               "file", "aid", "pairs", "95 % interval holds the truth", "wrong 'match'",
               "of those called a match", "wrong 'no match'", "median error", "median width",
               f"of pairs truly under {NEAR:g}")  # fmt: skip
    for (file, aid), cases in found.items():
        ones = [case.told for case in cases]
        wrong = sum(case.wrong_match for case in cases)
        matches = sum(case.verdict == "match" for case in cases)
        print_row(file, aid, str(len(ones)), held(ones), share(wrong, len(ones)),
                  f"{wrong} of {matches}", str(sum(case.wrong_apart for case in cases)),
                  median_error(ones), median_width(ones),
                  median_width([one for one in ones if one.true < NEAR]))  # fmt: skip


def main() -> None:
    """Print the table, or some files of it."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("pairs", nargs="?", type=int, default=400)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--only", nargs="+", choices=FILES, default=FILES)
    given = arguments.parse_args()
    print_found(many_pairs(given.pairs, given.seed, given.only))


if __name__ == "__main__":
    main()
