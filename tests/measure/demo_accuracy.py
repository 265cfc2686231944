"""How near tonematch's readings come to the known truth of rendered pictures.

Run ``python -m tests.measure.demo_accuracy`` from the root. It prints one table for the
demonstration photographs and one for pairs of like areas rendered at random: two cameras, three
lights, the card alone as calibration. Lab is CIELAB D50, 2 degree; differences are CIEDE2000.
"""

import argparse
import json
import tempfile
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter

from tests.demonstration.camera import Shot, raw_weights, save_jpeg, take
from tests.demonstration.films import FILMS, SMOKE, Surface, lay, new_gold
from tests.demonstration.spectra import WAVELENGTHS, Array, lab_d50
from tonematch.demonstration import demo_photograph
from tonematch.errors import TonematchError
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.core import Comparison, Reading
from tonematch.measure.marked import read_marked
from tonematch.measure.reading.reading import read_area
from tonematch.photo.decode import load_photo
from tonematch.swatchbook import swatch_path

CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")
LIGHTS = ("LED-B4", "D65", "LED-B2")
GREATEST = 6.0
"""Greatest true CIEDE2000 of a pair of like areas."""
SIDE = 100
"""Pixels along a patch."""
MOTTLING = 0.02
"""Deviation of the reflectance within a patch, as a part of it."""
SLOPE = 0.02
"""Greatest change of the light from one end of the picture to the other, as a part of it."""
TONES = ("raw umber wash", "burnt umber wash", "raw umber glaze", "burnt umber glaze",
         "raw sienna wash", "lamp black wash", "rottenstone dust", "dark wax")  # fmt: skip

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Pair:
    """Compared against true difference of one pair of areas."""

    camera: str
    light: str
    true: float
    compared: float
    interval: tuple[float, float]

    @property
    def error(self) -> float:
        """Compared minus true CIEDE2000."""
        return self.compared - self.true


def read_boxes(source: Path, card: Box, boxes: dict[str, Box]) -> dict[str, Reading]:
    """Read boxes of a photograph on its grey card of reflectance 0.18."""
    photo = load_photo(source)
    calibration = calibrate(photo, box_area("card", card, "card"), card_from_reflectance(0.18))
    return {name: read_area(photo, box_area(name, box), calibration) for name, box in boxes.items()}


def read_demo(name: str) -> dict[str, Reading]:
    """Read the areas of one demonstration photograph on its three cards."""
    return read_marked(demo_photograph(name).marked(), card_from_reflectance(0.18))[0]


def show(lab: Array) -> str:
    """Three numbers in columns."""
    return " ".join(f"{value:6.2f}" for value in lab)


def print_compared(words: str, comparison: Comparison, true: float) -> None:
    """One row of the second table."""
    low, high = comparison.interval
    print(f"{words:38} {true:6.2f} {comparison.delta_e:9.2f} {comparison.delta_e - true:+6.2f}"
          f"   {low:.2f} to {high:.2f}  {comparison.verdict}")  # fmt: skip


def demo_tables() -> None:
    """Print the readings of the demonstration photographs beside their truth."""
    pictures = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))["pictures"]
    readings: dict[str, dict[str, Reading]] = {}
    print(f"{'photograph':22} {'area':9} {'read L* a* b*':^21}  {'true L* a* b*':^21} CIEDE2000")
    for name, picture in pictures.items():
        try:
            readings[name] = read_demo(name)
        except TonematchError as refused:
            print(f"{name:22} refused: {refused}")
            continue
        for area, reading in readings[name].items():
            true = np.array(picture["areas"][area]["lab"])
            error = float(delta_e_2000(reading.lab, true))
            print(f"{name:22} {area:9} {show(reading.lab)}  {show(true)} {error:7.2f}")

    print(f"\n{'pair':38} {'true':>6} {'compared':>9} {'error':>6}   95 % interval, verdict")
    for name, areas in readings.items():
        if "delta_e_2000" in pictures[name]:
            comparison = compare(areas["original"], areas["repair"])
            print_compared(name, comparison, pictures[name]["delta_e_2000"])
    original, repair = (f"separate-{role}.jpg" for role in ("original", "repair"))
    true_labs = [np.array(pictures[name]["areas"][role]["lab"])
                 for name, role in ((original, "original"), (repair, "repair"))]  # fmt: skip
    apart = compare(readings[original]["original"], readings[repair]["repair"])
    print_compared("the two separate photographs", apart, float(delta_e_2000(*true_labs)))


def random_old(rng: np.random.Generator) -> Surface:
    """Old gilding: smoke, dust and wear by chance."""
    surface = lay(new_gold("red", rng.uniform(0.005, 0.03)), SMOKE, rng.uniform(0.2, 1.0))
    surface = lay(surface, FILMS["rottenstone dust"], rng.uniform(0.0, 0.4))
    return lay(surface, FILMS["rub to bole"], rng.uniform(0.0, 0.3))


def random_repair(rng: np.random.Generator) -> Surface:
    """A repair on its way: sealed, then one or two layers by chance."""
    surface = lay(new_gold("red", rng.uniform(0.005, 0.03)), FILMS["clear shellac seal"], 1.0)
    for name in rng.choice(TONES, size=rng.integers(1, 3), replace=False):
        surface = lay(surface, FILMS[name], rng.uniform(0.2, 1.2))
    return surface


def random_pair(rng: np.random.Generator) -> tuple[Array, Array]:
    """Reflectances of an original and a repair no more than `GREATEST` apart."""
    while True:
        pair = random_old(rng).reflectance, random_repair(rng).reflectance
        if float(delta_e_2000(lab_d50(pair[0]), lab_d50(pair[1]))) <= GREATEST:
            return pair


def photograph_pair(
    pair: tuple[Array, Array], shot: Shot, rng: np.random.Generator, into: Path
) -> tuple[dict[str, Reading], Array]:
    """Photograph card, original and repair side by side and read both.

    Returns
    -------
    readings : dict of str to Reading
    true : ndarray, shape (2, 3)
        Lab of the mean reflectance of each box, its mottling with it.
    """
    patches = (np.full(WAVELENGTHS.size, 0.18), *pair)
    signal = np.stack([patch @ raw_weights(shot.camera, shot.light) for patch in patches])
    picture = np.repeat(np.repeat(signal[None], SIDE, axis=0), SIDE, axis=1)
    blotches = gaussian_filter(rng.standard_normal(picture.shape[:2]), 6.0)
    mottling = 1 + MOTTLING * blotches / blotches.std()
    mottling[:, :SIDE] = 1.0
    slope = 1 + rng.uniform(-SLOPE, SLOPE) * np.linspace(-0.5, 0.5, picture.shape[1])
    lit = picture * (mottling * slope)[..., None]
    save_jpeg(take(lit, shot, rng), into, "invented patches")

    edge, inner = SIDE * 15 // 100, SIDE * 70 // 100
    starts = [SIDE * i + edge for i in range(3)]
    card, original, repair = ((x, edge, inner, inner) for x in starts)
    means = [mottling[edge : edge + inner, x : x + inner].mean() for x in starts[1:]]
    readings = read_boxes(into, card, {"original": original, "repair": repair})
    return readings, lab_d50(np.stack(pair) * np.array(means)[:, None])


def like_pairs(each: int = 10, seed: int = 7) -> list[Pair]:
    """Compare rendered pairs of like areas: `each` for every camera and light.

    Parameters
    ----------
    each : int
        At least 1.
    seed : int

    Returns
    -------
    list of Pair
    """
    rng = np.random.default_rng(seed)
    found = []
    with tempfile.TemporaryDirectory() as folder:
        into = Path(folder) / "pair.jpg"
        for camera, light in product(CAMERAS, LIGHTS):
            for _ in range(each):
                pair = random_pair(rng)
                red, blue = rng.uniform(0.96, 1.04, 2)
                shot = Shot(camera, light, rng.uniform(0.55, 0.8), (red, 1.0, blue))
                readings, labs = photograph_pair(pair, shot, rng, into)
                comparison = compare(readings["original"], readings["repair"])
                true = float(delta_e_2000(labs[0], labs[1]))
                found.append(Pair(camera, light, true, comparison.delta_e, comparison.interval))
    return found


def pairs_table(pairs: list[Pair]) -> None:
    """Print errors of the compared difference by camera and light, and over all."""

    def row(words: str, some: list[Pair]) -> None:
        errors = np.abs([pair.error for pair in some])
        inside = np.mean([pair.interval[0] <= pair.true <= pair.interval[1] for pair in some])
        true = np.array([pair.true for pair in some])
        print(f"{words:32} {len(some):5} {true.min():5.2f} to {true.max():4.2f} "
              f"{np.median(errors):8.2f} {np.quantile(errors, 0.9):8.2f} {errors.max():8.2f} "
              f"{100 * inside:8.0f} %")  # fmt: skip

    print(f"\n{'like pairs: camera, light':32} {'pairs':>5} {'true CIEDE2000':>12} {'median':>8}"
          f" {'90 %':>8} {'greatest':>8} true inside 95 % interval")  # fmt: skip
    for camera, light in product(CAMERAS, LIGHTS):
        some = [pair for pair in pairs if (pair.camera, pair.light) == (camera, light)]
        row(f"{camera}, {light}", some)
    row("all", pairs)


if __name__ == "__main__":
    argparse.ArgumentParser(description=demo_tables.__doc__).parse_args()
    demo_tables()
    pairs_table(like_pairs())
