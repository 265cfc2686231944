"""Prints every simulated figure of accuracy: ``accuracy_table.py [PAIRS] [--seed SEED]``.

PAIRS is how many pairs each row has (400 unless given: half an hour and more); the coverage of
the 95 % interval is counted over five times as many. Photographs are by the simulated camera
(`simulated_camera`): two cameras, seven lamps, 8-bit JPEG, noise, light that is a little uneven,
mottled surfaces; true differences from 0 to 6. ``--processes 2`` shares the photographs among
two processes and changes no figure, ``--only readings`` (intervals, repeats, faults, steady,
surfaces) prints one section.
"""

import argparse
import sys
from collections.abc import Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial

import numpy as np

from tests.measure.accuracy import Compared, Summary, summarise
from tests.measure.drawn_pairs import drawn, on_card, on_chart, on_greys
from tests.measure.repeated_pairs import Kind, repeated, twice
from tests.measure.simulated_camera import CAMERAS, DAYLIGHT_OR_LED, LAMPS
from tests.measure.steady import exposure_swing, neutral_errors, spectrum_errors
from tests.measure.surface_table import angles, evennesses, glints
from tests.measure.uneven_light import CARD, FURTHER, GREY_18, THIRD, apart, scene, sheet
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.card import calibrate

NEUTRAL_LAMPS = ("A", "D50", "LED-B4")


@dataclass(frozen=True)
class Run:
    """How many pairs, from which seed, and who works."""

    pairs: int
    seed: int
    workers: Executor | None

    def on_card(self, row: int, count: int | None = None, **how: object) -> list[Compared]:
        """Pairs on the card alone; `how` as `drawn_pairs.on_card`."""
        make = partial(on_card, **how)  # type: ignore[arg-type]
        return drawn(make, count or self.pairs, (self.seed, row), self.workers)


def head(words: str, *columns: str) -> None:
    """A section's title and the head of its table."""
    print(f"\n**{words}**\n\n| {' | '.join(columns)} |\n|{' --- |' * len(columns)}", flush=True)


def row(*cells: str) -> None:
    """One row of a table."""
    print(f"| {' | '.join(cells)} |", flush=True)


def kinds_of_calibration(run: Run) -> None:
    """Error of readings and of compared differences, by what calibrates the picture."""
    head("Readings and compared differences, true difference 0 to 6", "case", "pairs",
         "absolute reading, mean CIEDE2000", "asked", "error of the compared CIEDE2000, median / "
         "95th percentile", "asked", "interval holds the truth", "its median width")  # fmt: skip

    def case(words: str, found: Sequence[Compared], reading: str, error: str) -> None:
        told = summarise(found)
        row(words, str(told.pairs), f"{told.reading:.1f}", reading,
            f"{told.median:.2f} / {told.at_95:.2f}", error, f"{told.held:.1%}",
            f"{told.width:.2f}")  # fmt: skip

    case("card alone, daylight or LED", run.on_card(1, lamps=DAYLIGHT_OR_LED), "-", "0.5 / 1.5")
    case("card alone, any of the seven lamps", run.on_card(2), "-", "-")
    greys = drawn(on_greys, run.pairs, (run.seed, 3), run.workers)
    case("card and grey scale, gamma 1.0 to 2.6", greys, "-", "0.6 / 1.8")
    of_chart = drawn(on_chart, run.pairs, (run.seed, 4), run.workers)
    case("chart", [one for one, _ in of_chart], "1.5", "0.3 / 1.0")
    case("saved camera profile", [other for _, other in of_chart], "1.5", "0.3 / 1.0")


def intervals(run: Run) -> None:
    """Coverage, bias and false alarms on the card alone."""
    head("Intervals, card alone, any of the seven lamps", "pairs of", "number",
         "95 % interval holds the truth", "asked", "its median width", "mean error", "asked",
         "told at under half of it", "called no match", "asked")  # fmt: skip

    def case(words: str, told: Summary, held: str, bias: str, called: str) -> None:
        row(words, str(told.pairs), f"{told.held:.1%}", held, f"{told.width:.2f}",
            f"{told.bias:+.2f}", bias, f"{told.lost:.1%}", f"{told.called_apart:.1%}",
            called)  # fmt: skip

    whole = summarise(run.on_card(5, count=5 * run.pairs))
    case("true difference 0 to 6", whole, "93 to 97 %", "-", "-")
    case("0 to 6, surfaces without mottle", summarise(run.on_card(6, mottling=0.0)), "-", "-", "-")
    for number, true in enumerate((0.0, 1.0, 2.0)):
        told = summarise(run.on_card(7 + number, difference=true))
        called = "-" if true else "at most 5 %"
        case(f"true difference {true:g}", told, "-", "within 0.1", called)


def repeats(run: Run) -> None:
    """Several photographs of one pair, combined."""
    head("The same places photographed again at another exposure and white balance, combined",
         "repeats", "photographs", "pairs", "95 % interval holds the truth", "asked",
         "its median width", "that of one photograph",
         "error, median / 95th percentile")  # fmt: skip
    kinds: tuple[Kind, ...] = ("lamp kept", "lamp moved", "two photographs")
    for number, (kind, count) in enumerate((kind, n) for kind in kinds for n in (2, 5)):
        make = partial(repeated, number=count, kind=kind)
        found = drawn(make, run.pairs, (run.seed, 21 + number), run.workers)
        errors = [abs(one.together.delta_e - one.shots[0].true) for one in found]
        single = np.median([np.ptp(one.shots[0].comparison.interval) for one in found])
        row(kind, str(count), str(len(found)), f"{np.mean([one.holds for one in found]):.1%}",
            "93 to 97 %", f"{np.median([one.width for one in found]):.2f}", f"{single:.2f}",
            f"{np.median(errors):.2f} / {np.quantile(errors, 0.95):.2f}")  # fmt: skip


def other_faults(run: Run) -> None:
    """Coverage where the photographs are better or worse than the budget assumes."""
    head("Faults beside those that the uncertainty budget assumes: slope of the light, fall to "
         "the corners and exponent of the tone curve, and a card off neutral, of which it assumes "
         "nothing; no target", "size of the faults", "pairs", "interval holds the truth",
         "its median width", "error, median / 95th percentile")  # fmt: skip
    for number, size in enumerate((0.5, 1.0, 1.5)):
        told = summarise(run.on_card(10 + number, faults=size, card_faults=size))
        row(f"{size:g} times", str(told.pairs), f"{told.held:.1%}", f"{told.width:.2f}",
            f"{told.median:.2f} / {told.at_95:.2f}")  # fmt: skip
    head("A warm reflection on the repair's side, as a share of what a white throws back; no "
         "target", "reflection", "cards", "pairs", "interval holds the truth", "its median width",
         "error, median / 95th percentile", "a second card is asked for",
         "the tint between the cards is told")  # fmt: skip
    cases = [(warm, second) for warm in (0.0, 0.01, 0.02) for second in (False, True)]
    for number, (warm, second) in enumerate(cases):
        found = run.on_card(30 + number, warm=warm, second_card=second)
        told = summarise(found)
        said = [" ".join(one.comparison.warnings) for one in found]
        asked, tint = (
            np.mean([words in all_of_it for all_of_it in said])
            for words in ("lay a second card", "The colour of the light changes")
        )
        row(f"{warm:.0%}", "one, and one beside the repair" if second else "one", str(told.pairs),
            f"{told.held:.1%}", f"{told.width:.2f}", f"{told.median:.2f} / {told.at_95:.2f}",
            f"{asked:.0%}", f"{tint:.0%}")  # fmt: skip


def steady(run: Run) -> None:
    """What exposure, lamp and uneven light must hardly move."""
    head("What must hardly move", "case", "found", "asked")
    for lamp in NEUTRAL_LAMPS:
        told = [neutral_errors(camera, lamp, run.seed) for camera in CAMERAS]
        flat, of_chart = (np.concatenate(errors) for errors in zip(*told, strict=True))
        by_spectrum = max(spectrum_errors(camera, lamp).max() for camera in CAMERAS)
        row(f"held-out flat neutrals under {lamp}, greatest error in a*b*",
            f"{flat.max():.2f}", "1.0")  # fmt: skip
        row(f"a chart's white, greys and black under {lamp}, on a flat card, mean and greatest; "
            "greatest by spectrum and camera alone, without noise and JPEG: their white reflects "
            "half as much violet, and no flat card teaches a camera that",
            f"{of_chart.mean():.2f}, {of_chart.max():.2f}; {by_spectrum:.2f}", "1.0")  # fmt: skip
    swings = [exposure_swing(lamp, run.seed + shift) for lamp in LAMPS for shift in range(3)]
    row("exposure from half to double, greatest move of a difference of 3",
        f"{max(swings):.3f}", "0.05")  # fmt: skip
    for kind in ("across", "diagonal", "round"):
        photo = scene(kind)
        left = apart(photo, calibrate(photo, CARD, GREY_18, Aids(flat_field=sheet(kind))))
        row(f"light falling 30 %, {kind}, CIEDE2000 of equal patches after a sheet",
            f"{left:.2f}", "0.5")  # fmt: skip
    for kind, cards in (("across", [FURTHER, THIRD]), ("diagonal", [FURTHER])):
        photo = scene(kind)
        left = apart(photo, calibrate(photo, CARD, GREY_18, Aids(cards=cards)))
        row(f"the same, {kind}, after {len(cards)} further cards", f"{left:.2f}", "0.5")
    pairs = drawn(twice, run.pairs, (run.seed, 20), run.workers)
    agreeing = sum(pair.agreeing for pair in pairs) / (2 * len(pairs))
    row(f"two photographs two stops apart, white balance changed, {len(pairs)} pairs: each "
        "difference in the other's interval", f"{agreeing:.1%}", "they agree")  # fmt: skip
    held = np.mean([pair.holds for pair in pairs])
    row("the two combined: interval holds the truth", f"{held:.1%}", "-")


def surfaces(run: Run) -> None:
    """Shine, angle and evenness, half as many pairs a row."""
    for section in (glints, angles, evennesses):
        section(max(1, run.pairs // 2), run.seed)


SECTIONS = {
    "readings": kinds_of_calibration,
    "intervals": intervals,
    "repeats": repeats,
    "faults": other_faults,
    "steady": steady,
    "surfaces": surfaces,
}


def main() -> None:
    """Print every section, or one of them."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("pairs", nargs="?", type=int, default=400)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--processes", type=int, choices=(1, 2), default=1)
    arguments.add_argument("--only", choices=SECTIONS)
    given = arguments.parse_args()
    print(f"{' '.join(['accuracy_table.py', *sys.argv[1:]])}: simulated; truth known")
    with ProcessPoolExecutor(2) if given.processes == 2 else nullcontext() as workers:
        run = Run(given.pairs, given.seed, workers)
        for name, section in SECTIONS.items():
            if given.only in (None, name):
                section(run)


if __name__ == "__main__":
    main()
