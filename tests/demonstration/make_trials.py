"""Write the demonstration's trials: invented strips on invented pieces.

Run ``python -m tests.demonstration.make_trials`` from the root; it writes
swatches/demo/trials.csv. Every strip starts from new gold; what each layer does comes from
films.py, wavelength by wavelength, with a hand that lays each material habitually thicker or
thinner than its entry says, scatter from one coat to the next, and reading noise. The seed is
fixed.
"""

import argparse
import csv
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from tests.demonstration.films import FILMS, Surface, lay, new_gold
from tests.demonstration.spectra import Array, lab_d50, metal_reflectance
from tonematch.swatchbook import swatch_path

SEED = 20250304
HABIT = 0.25
"""Deviation of log thickness from one material to another, the same on every piece."""
SCATTER = 0.15
"""Deviation of log thickness from one application to the next."""
READING_NOISE = 0.3
"""Deviation of each of L*, a*, b*."""
MATTE_TAKES = 1.12
"""A matte ground holds more of a coat than burnish does. Starting guess."""
TRIALS = swatch_path("demo", "trials.csv")
COLUMNS = (
    *("piece", "date", "technique", "finish", "step", "layer", "kind", "strength", "coats"),
    *("before_L", "before_a", "before_b", "after_L", "after_a", "after_b", "note"),
)

Lay = tuple[str, float, int]
"""Layer, strength, coats."""
CLEAR, BUTTON, RESIN = "clear shellac seal", "button shellac", "low-polarity resin seal"
RAW_WASH, BURNT_WASH, BLACK_WASH = "raw umber wash", "burnt umber wash", "lamp black wash"
SIENNA_WASH, RAW_GLAZE, BURNT_GLAZE = "raw sienna wash", "raw umber glaze", "burnt umber glaze"
DUST, WAX, RUB = "rottenstone dust", "dark wax", "rub to bole"


@dataclass(frozen=True)
class Piece:
    """An invented piece with the strips that were laid for it.

    `silver` is the part of silver in the leaf's colour, `gaps` the part of the area between
    leaves.
    """

    name: str
    first_day: date
    technique: str
    finish: str
    bole: str
    silver: float
    gaps: float
    strips: tuple[tuple[Lay, ...], ...]

    def new_gold(self) -> Surface:
        """The untoned gilding."""
        gold = new_gold(self.bole, self.gaps)
        inside = (1 - self.silver) * gold.inside + self.silver * metal_reflectance("silver")
        return Surface(inside, gold.bole)


PIECES = (
    Piece("overmantel A (invented)", date(2025, 1, 13), "water", "burnished", "red", 0.0, 0.010, (
        ((CLEAR, 1.0, 1), (RAW_WASH, 0.5, 1), (BUTTON, 0.5, 1), (DUST, 0.5, 1), (WAX, 0.25, 1)),
        ((RUB, 0.25, 1), (CLEAR, 1.0, 1), (BURNT_WASH, 0.5, 1), (WAX, 0.5, 1)))),
    Piece("pier glass B (invented)", date(2025, 2, 3), "water", "burnished", "red", 0.03, 0.015, (
        ((RUB, 0.5, 1), (CLEAR, 0.5, 1), (RAW_GLAZE, 0.5, 1), (DUST, 0.25, 1)),
        ((BUTTON, 1.0, 1), (BURNT_GLAZE, 0.25, 2), (WAX, 0.5, 1)))),
    Piece("console C (invented)", date(2025, 2, 24), "water", "matte", "yellow", 0.0, 0.012, (
        ((CLEAR, 1.0, 2), (SIENNA_WASH, 0.75, 1), (CLEAR, 0.5, 1), (BLACK_WASH, 0.25, 1)),
        ((BUTTON, 0.5, 2), (RAW_WASH, 1.0, 1), (DUST, 0.5, 1), (WAX, 0.25, 2)))),
    Piece("picture frame D (invented)", date(2025, 3, 17), "oil", "matte", "yellow", 0.05, 0.02, (
        ((RESIN, 1.0, 1), (RAW_WASH, 0.75, 1), (RESIN, 0.5, 1), (DUST, 1.0, 1)),
        ((RESIN, 0.5, 1), (BURNT_WASH, 0.25, 2), (RESIN, 1.0, 1), (BLACK_WASH, 0.5, 1)))),
    Piece("girandole E (invented)", date(2025, 4, 7), "water", "burnished", "red", 0.02, 0.008, (
        ((BUTTON, 1.0, 2), (RAW_GLAZE, 0.75, 1), (WAX, 0.75, 1)),
        ((RUB, 1.0, 1), (CLEAR, 1.0, 1), (BLACK_WASH, 0.25, 2), (DUST, 0.25, 2)))),
    Piece("bracket F (invented)", date(2025, 4, 28), "oil", "matte", "yellow", 0.0, 0.025, (
        ((RESIN, 1.0, 1), (SIENNA_WASH, 0.5, 2), (WAX, 0.5, 2)),
        ((RESIN, 1.0, 2), (BURNT_WASH, 0.75, 1), (RESIN, 0.5, 1), (DUST, 0.75, 1)))),
    Piece("cornice G (invented)", date(2025, 5, 19), "water", "matte", "grey", 0.04, 0.015, (
        ((CLEAR, 0.5, 1), (BURNT_GLAZE, 0.75, 1), (DUST, 0.5, 2)),
        ((CLEAR, 1.0, 1), (SIENNA_WASH, 1.0, 1), (BUTTON, 0.5, 1), (RAW_GLAZE, 0.25, 1)))),
    Piece("altar rail H (invented)", date(2025, 6, 9), "oil", "matte", "red", 0.01, 0.018, (
        ((RESIN, 0.5, 1), (RAW_WASH, 0.25, 2), (WAX, 1.0, 1)),
        ((RESIN, 1.0, 1), (BLACK_WASH, 0.75, 1), (RESIN, 1.0, 1), (SIENNA_WASH, 0.25, 1)))),
)  # fmt: skip


def habits(rng: np.random.Generator) -> dict[str, float]:
    """How many times thicker than its entry says this hand lays each material."""
    return {name: float(np.exp(HABIT * rng.standard_normal())) for name in FILMS}


def make_rows(pieces: tuple[Piece, ...], seed: int) -> list[list[str]]:
    """Lay every strip and read it before and after each layer; one row per trial."""
    rng = np.random.default_rng(seed)
    habit = habits(rng)
    rows: list[list[str]] = []

    def read(surface: Surface) -> Array:
        return lab_d50(surface.reflectance) + READING_NOISE * rng.standard_normal(3)

    for piece in pieces:
        step, day = 0, piece.first_day
        for number, strip in enumerate(piece.strips, start=1):
            surface = piece.new_gold()
            for layer, strength, coats in strip:
                step, day = step + 1, day + timedelta(days=1)
                amount = strength * coats * habit[layer] * np.exp(SCATTER * rng.standard_normal())
                if piece.finish == "matte" and FILMS[layer].kind != "rub":
                    amount *= MATTE_TAKES
                before = read(surface)
                surface = lay(surface, FILMS[layer], amount)
                after = read(surface)
                rows.append(
                    [
                        *(piece.name, day.isoformat(), piece.technique, piece.finish, str(step)),
                        *(layer, FILMS[layer].kind, f"{strength:g}", str(coats)),
                        *(f"{value:.2f}" for value in (*before, *after)),
                        f"invented: strip {number}, made by calculation, not measured",
                    ]
                )
    return rows


def main() -> None:
    """Write trials.csv."""
    parser = argparse.ArgumentParser(description="Write the invented demonstration trials.")
    parser.add_argument("--into", type=Path, default=TRIALS)
    into: Path = parser.parse_args().into
    with into.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(make_rows(PIECES, SEED))


if __name__ == "__main__":
    main()
