"""Reads real photographs of 24-patch charts: what each aid beside the card buys.

``python -m tests.measure.real_photographs [--only ROW ...] [--photos FOLDER]``. The middle grey is
the card. A row is what else the picture holds; patches that a row uses are no part of its pairs,
and a photograph of which the tool refuses the card or a neutral is no part of the row. Pairs of
one photograph, and photographs of one camera, err together: the printed binomial intervals count
pairs as independent and are too narrow by that.

Goals: 90 to 98 % held in every row; at a median width of at most 12 on the card alone and 10 with
two neutrals; median error under 1.7 with three tones.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path

import numpy as np

from tests.measure.chart_photographs import (
    BLACK,
    CARD,
    GREYS,
    LINEAR,
    N8,
    N35,
    NO_PHOTOS,
    PHOTOS,
    WHITE,
    ChartPhotograph,
    chart_photographs,
)
from tests.measure.greys_left_out import LeftOut, left_out, print_greys
from tests.measure.tally import (
    Told,
    held,
    median_error,
    median_width,
    print_head,
    print_row,
    share,
    told,
    width_for,
)
from tonematch.errors import ReadingError, TonematchError
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.core import Calibration, CameraProfile, Reading
from tonematch.measure.reading.reading import read_area

NEUTRALS = {"card": (), "two": (N8, N35), "three": (WHITE, BLACK), "all": GREYS}
"""Rows whose only aid is neutrals, and which these are."""
ROWS = {
    "card": "card alone",
    "linear": "card alone, told linear; linear files only",
    "two": "card, N8 and N3.5",
    "three": "three tones: white, card, black",
    "all": "card and five greys",
    "chart": "chart, less the pair; 6 pairs of a photograph",
    "earlier": "card, profile of another picture's chart",
}
NEAR = 15.0
"""Pairs of patches truly under this apart are compared, CIEDE2000; and all pairs of greys."""
CHART_PAIRS = 6
"""Pairs of a photograph that the chart's row takes, drawn at random: each needs a calibration."""


@dataclass(frozen=True)
class Pair:
    """Two patches compared.

    Attributes
    ----------
    greys : int
        How many of the two are greys of the chart.
    wrong : bool
        Whether it was called a match at three quarters of the true difference as tolerance, or
        no match at four thirds of it.
    """

    camera: str
    half: str
    photograph: str
    greys: int
    told: Told
    wrong: bool


@dataclass(frozen=True)
class Patch:
    """A patch read: CIEDE2000 from its reference, and whether its L* is within 1.96 sigma."""

    error: float
    held: bool


@dataclass
class Row:
    """What was found with one aid."""

    pairs: list[Pair] = field(default_factory=list)
    patches: list[Patch] = field(default_factory=list)
    photographs: int = 0
    refused: int = 0


def read_patches(
    picture: ChartPhotograph, calibration: Calibration, names: Iterable[str]
) -> dict[str, Reading]:
    """Read patches, less those that are refused."""
    found = {}
    for name in names:
        try:
            found[name] = read_area(picture.photo, picture.areas[name], calibration)
        except ReadingError:
            continue
    return found


def true_difference(picture: ChartPhotograph, pair: Sequence[str]) -> float:
    """CIEDE2000 of two patches by the chart's table."""
    return float(delta_e_2000(picture.lab[pair[0]], picture.lab[pair[1]]))


def pairs_of(picture: ChartPhotograph, names: Sequence[str]) -> list[tuple[str, str]]:
    """Pairs that are compared: truly near, or two greys."""
    return [
        pair
        for pair in combinations(names, 2)
        if true_difference(picture, pair) < NEAR or set(pair) <= set(GREYS)
    ]


def compared(picture: ChartPhotograph, pair: tuple[str, str], read: dict[str, Reading]) -> Pair:
    """Two patches compared at a tolerance below and one above their true difference."""
    true = true_difference(picture, pair)
    original, repair = (read[name] for name in pair)
    below = compare(original, repair, true * 3 / 4)
    found = told(true, below)
    wrong = below.verdict == "match"
    if not found.holds:  # else it reaches too far down to lie above the greater one
        wrong |= compare(original, repair, true * 4 / 3).verdict == "no match"
    greys = len(set(pair) & set(GREYS))
    return Pair(picture.camera, picture.half, picture.name, greys, found, wrong)


def add_patches(row: Row, picture: ChartPhotograph, read: dict[str, Reading], asked: int) -> None:
    """Add readings beside the reference to a row."""
    row.refused += asked - len(read)
    for name, reading in read.items():
        error = reading.lab - picture.lab[name]
        sigma = float(np.sqrt(reading.covariance[0, 0]))
        near = float(delta_e_2000(picture.lab[name], reading.lab))
        row.patches.append(Patch(near, abs(float(error[0])) <= 1.96 * sigma))


def with_aids(row: Row, picture: ChartPhotograph, aids: Aids, used: Sequence[str] = ()) -> None:
    """Read every other patch once and compare all pairs."""
    calibration = picture.calibration(aids)
    names = [name for name in picture.areas if name not in (CARD, *used)]
    read = read_patches(picture, calibration, names)
    row.photographs += 1
    add_patches(row, picture, read, len(names))
    row.pairs += [compared(picture, pair, read) for pair in pairs_of(picture, list(read))]


def with_chart(row: Row, picture: ChartPhotograph) -> None:
    """Compare some pairs, each with the chart less its two patches."""
    row.photographs += 1
    every = pairs_of(picture, [name for name in picture.areas if name != CARD])
    chosen = np.random.default_rng(2014).permutation(len(every))[:CHART_PAIRS]
    for pair in (every[k] for k in sorted(chosen)):
        calibration = picture.calibration(Aids(chart=picture.chart(*pair)))
        read = read_patches(picture, calibration, pair)
        add_patches(row, picture, read, len(pair))
        if len(read) == len(pair):
            row.pairs.append(compared(picture, pair, read))


def add_picture(
    row: Row, name: str, picture: ChartPhotograph, earlier: dict[str, CameraProfile]
) -> None:
    """Add what one aid shows in one photograph; nothing where it cannot be had there."""
    if name == "chart":
        with_chart(row, picture)
    elif name == "earlier":
        before = earlier.get(picture.camera)
        if before is not None:
            with_aids(row, picture, Aids(profile=before))
        learned = picture.calibration(Aids(chart=picture.chart())).profile
        if learned is not None:
            earlier[picture.camera] = learned
    elif name == "linear":
        if picture.camera == LINEAR:
            with_aids(row, picture, Aids(encoding="linear"))
    else:
        used = NEUTRALS[name]
        with_aids(row, picture, Aids(picture.neutrals(*used)), used)


def print_patches(rows: dict[str, Row]) -> None:
    """Absolute errors; the chart's row has the patches of its pairs only."""
    print_head("Patches, CIEDE2000 from the chart's table", "aid", "photographs", "patches",
               "refused", "median", "mean", "95th percentile",
               "L* in its 95 % interval")  # fmt: skip
    for name, row in rows.items():
        if row.patches:
            errors = [patch.error for patch in row.patches]
            print_row(ROWS[name], str(row.photographs), str(len(errors)), str(row.refused),
                      f"{np.median(errors):.1f}", f"{np.mean(errors):.1f}",
                      f"{np.quantile(errors, 0.95):.1f}",
                      share(sum(patch.held for patch in row.patches), len(errors)))  # fmt: skip


GROUPS: dict[str, Callable[[Pair], bool]] = {
    f"truly under {NEAR:g}": lambda pair: pair.told.true < NEAR,
    "of two greys, however far apart": lambda pair: pair.greys == 2,
}


def print_pairs(rows: dict[str, Row]) -> None:
    """Differences: errors, coverage, width and wrong verdicts, by group of pairs."""
    for words, belongs in GROUPS.items():
        groups = {name: [pair for pair in row.pairs if belongs(pair)] for name, row in rows.items()}
        nearest = min((pair.told.true for pairs in groups.values() for pair in pairs), default=0.0)
        print_head(f"Pairs {words} (the nearest {nearest:.1f})", "aid", "photographs", "pairs",
                   "95 % interval holds the truth", "median error", "median width",
                   "wrong verdicts", "misses read too large", "too small")  # fmt: skip
        for name, pairs in groups.items():
            found = [pair.told for pair in pairs]
            print_row(ROWS[name], str(len({pair.photograph for pair in pairs})), str(len(pairs)),
                      held(found), median_error(found), median_width(found),
                      share(sum(pair.wrong for pair in pairs), len(pairs)),
                      str(sum(one.low > one.true for one in found)),
                      str(sum(one.high < one.true for one in found)))  # fmt: skip


def print_worth(rows: dict[str, Row]) -> None:
    """What an aid buys: widths at which pairs of colours would be covered, whatever was stated."""
    levels = (50, 80, 90, 95)
    print_head("What an aid buys: pairs of two colours truly under 15, the same in every row but "
               "the chart's; last the median width with all intervals stretched alike to hold so "
               "many", "aid", "pairs", "median error", "held as stated", "median width as stated",
               *(f"width for {level} %" for level in levels))  # fmt: skip
    for name, row in rows.items():
        found = [pair.told for pair in row.pairs if not pair.greys and pair.told.true < NEAR]
        print_row(ROWS[name], str(len(found)), median_error(found), held(found),
                  median_width(found), *(width_for(found, level) for level in levels))  # fmt: skip


def print_cameras(rows: dict[str, Row]) -> None:
    """Pairs truly under 15 by camera; sixteen pictures of one phone are one camera."""
    _print_parts(rows, "camera", lambda pair: pair.camera)


def print_halves(rows: dict[str, Row]) -> None:
    """The same by half: the photographs that choices were made on, and those held aside."""
    _print_parts(rows, "half", lambda pair: pair.half)


def _print_parts(rows: dict[str, Row], column: str, part: Callable[[Pair], str]) -> None:
    print_head(f"By {column}, pairs truly under {NEAR:g}", "aid", column, "photographs", "pairs",
               "95 % interval holds the truth", "median error", "median width")  # fmt: skip
    for name, row in rows.items():
        near = [pair for pair in row.pairs if pair.told.true < NEAR]
        shares = []
        for words in dict.fromkeys(map(part, near)):
            pairs = [pair for pair in near if part(pair) == words]
            found = [pair.told for pair in pairs]
            shares.append(np.mean([one.holds for one in found]))
            print_row(ROWS[name], words, str(len({pair.photograph for pair in pairs})),
                      str(len(found)), held(found), median_error(found),
                      median_width(found))  # fmt: skip
        if len(shares) > 1:
            print_row(ROWS[name], f"mean of the {len(shares)}", "", "",
                      f"{100 * np.mean(shares):.0f} %", "", "")  # fmt: skip


def main(typed: Sequence[str] | None = None) -> None:
    """Print the tables, or those of some rows."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("--only", nargs="+", choices=[*ROWS, "greys"], metavar="ROW",
                           default=[*ROWS, "greys"], help=", ".join([*ROWS, "greys"]))  # fmt: skip
    arguments.add_argument("--photos", type=Path, default=PHOTOS, help="folder with patches.json")
    given = arguments.parse_args(typed)
    rows = {name: Row() for name in ROWS if name in given.only}
    greys: list[LeftOut] = []
    earlier: dict[str, CameraProfile] = {}
    opened = 0
    for picture in chart_photographs(given.photos):
        opened += 1
        for name, row in rows.items():
            try:
                add_picture(row, name, picture, earlier)
            except TonematchError as refusal:
                print(f"{picture.name}, {ROWS[name]}: {refusal}", file=sys.stderr)
        if "greys" in given.only:
            greys += left_out(picture)
    if not opened:
        sys.exit(NO_PHOTOS)
    print(f"{opened} photographs; CIELAB D50, CIEDE2000")
    if rows:
        for print_table in (print_patches, print_pairs, print_worth, print_cameras, print_halves):
            print_table(rows)
    if greys:
        print_greys(greys)


if __name__ == "__main__":
    main()
