"""How long a person waits on the bench, in a browser, beside the computation alone.

Run ``python -m tests.benchmarks.bench_waits`` from the root with nothing else running; it needs
Chromium and about two minutes. The piece, its photographs and its 60 trials are the invented ones
of the demonstration. Each wait is from the press to the answer, and until the page is whole; busy
is what the bench took of a processor until the answer, which a busy machine changes less.
"""

import argparse
import os
import re
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from playwright.sync_api import Locator

from tests.benchmarks.bench_compare import BOXES, SCALE, make_large
from tests.screens.hand import (
    LAPTOP,
    Hand,
    chromium,
    drag,
    go,
    hand_over,
    lay_first,
    open_fold,
    open_hand,
    true_corners,
)
from tests.screens.served import serve
from tonematch.demonstration import PIECE
from tonematch.logbook.layers_on_repair import ground_of, surface_of
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.core import Area, Comparison
from tonematch.measure.marked import Marked, compare_marked
from tonematch.photo.decode import load_photo
from tonematch.toning.layers.shelf import at_hand
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.planning.gap import Workshop, gap_of
from tonematch.toning.planning.leaf import propose_leaf
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.strips import choose_strips

SCENE, AFTER = "scene-1.jpg", "scene-2-after-1.jpg"
VERDICT, PLAN, LAYER = "24-megapixel verdict", "plan from 60 trials", "layer logged to new plan"
STRIPS, LEAF, LOGBOOK = "test strips", "which gold to lay", "logbook page"
MOST = {VERDICT: 1.2, PLAN: 2.0, LAYER: 2.0, STRIPS: 4.0, LEAF: 4.0, LOGBOOK: 1.0}  # s, sought


@dataclass(frozen=True)
class Wait:
    """Seconds from the press until the answer stands there, and until the page is whole.

    `busy` are those of a processor until the answer.
    """

    answer: float
    whole: float
    busy: float


def main() -> None:
    """Measure and print."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    with tempfile.TemporaryDirectory() as folder, serve(Path(folder)) as server:
        picture = Path(folder) / "large.jpg"
        maker = get_context("spawn").Process(target=make_large, args=(picture,))
        maker.start()
        maker.join()
        with chromium() as browser:
            hand = open_hand(browser, Path(folder), LAPTOP)
            hand.page.goto(server.url)
            waits = _on_the_bench(hand, picture, server.process.pid)
        with open_logbook(server.logbook) as logbook:
            alone = _alone(logbook, picture)
    print(
        "{:28}{:>8}{:>8}{:>8}{:>8}{:>18}".format(
            "seconds", "sought", "answer", "whole", "busy", "computed alone"
        )
    )
    for what, wait in waits.items():
        times = f"{MOST[what]:8.1f}{wait.answer:8.2f}{wait.whole:8.2f}{wait.busy:8.2f}"
        print(f"{what:28}{times}{alone[what]:18.2f}")


def _on_the_bench(hand: Hand, picture: Path, bench: int) -> dict[str, Wait]:
    """Each wait, in the order of the job, for a bench that is this process."""
    page, waits, wait_for = hand.page, {}, partial(_wait, hand, bench)
    first_plan = page.get_by_role("heading", name=re.compile("^(Plan 1|Laid to learn)"))
    open_fold(hand, "Try it first on an invented piece")
    hand.press("Put it on the bench")
    page.locator("canvas[aria-label]").wait_for()
    hand.settle()
    drag(hand, hand_over(hand, picture), SCENE)
    waits[VERDICT] = wait_for("Compare the two", page.locator(".tm-verdict"))
    waits[PLAN] = wait_for("Keep it and plan", first_plan)
    open_fold(hand, "Choose the strips")
    waits[STRIPS] = wait_for("Choose them", page.get_by_role("button", name="Save the sheet"))
    lay_first(hand)
    hand.settle()
    hand.press("I have laid it")
    page.get_by_text("Photograph after the layer").wait_for()
    drag(hand, hand_over(hand, AFTER), AFTER)
    waits[LAYER] = wait_for("Log this layer", first_plan)
    waits[LOGBOOK] = wait_for("Logbook", page.get_by_role("heading", name="Logbook"))
    waits[LEAF] = _leaf(hand, wait_for)
    return waits


def _leaf(hand: Hand, wait_for: Callable[[str, Locator], Wait]) -> Wait:
    """The wait for the gold to lay, where the old gilding alone was photographed."""
    go(hand, "Photograph")
    open_fold(hand, "Settings")
    hand.page.get_by_text("The gold is not laid yet").click()
    hand.settle()
    canvas = hand_over(hand, SCENE)
    for role in ("card", "original"):
        x0, y0, x1, y1 = true_corners(canvas, SCENE, role)
        hand.page.mouse.move(x0, y0)
        hand.page.mouse.down()
        hand.page.mouse.move(x1, y1, steps=3)
        hand.page.mouse.up()
        hand.settle()
    return wait_for("Which gold to lay", hand.page.get_by_role("heading", name="Way 1"))


def _wait(hand: Hand, bench: int, press: str, answer: Locator) -> Wait:
    running = hand.page.locator("[data-testid=stApp][data-test-script-state=running]")
    button = hand.page.get_by_role("button", name=press).first
    button.scroll_into_view_if_needed()
    busy, begun = _busy(bench), time.perf_counter()
    button.click()
    answer.first.wait_for()
    answered, busy = time.perf_counter() - begun, _busy(bench) - busy
    running.wait_for(state="detached")
    whole = time.perf_counter() - begun
    hand.settle()
    return Wait(answered, whole, busy)


def _busy(process: int) -> float:
    """Seconds of a processor that a process took so far, as Linux counts them (proc(5))."""
    told = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return sum(map(int, told[11:13])) / os.sysconf("SC_CLK_TCK")


def _alone(logbook: Logbook, picture: Path) -> dict[str, float]:
    """The same computations without a page; what the bench keeps between two, they keep."""
    photo = load_photo(picture.read_bytes(), picture.name)
    areas: dict[str, Area] = {
        role: box_area(role, [SCALE * side for side in box], role) for role, box in BOXES.items()
    }
    marked, card = Marked(photo, areas), usual_card()
    piece, shelf, trials = logbook.pieces(PIECE.name)[0], logbook.shelf(), logbook.trials()
    memory = Memory()

    def workshop(count: int) -> Workshop:
        known = trials[:count]
        on_piece = [trial for trial in known if trial.piece == piece.name]
        model = fit_trials(known, shelf, memory=memory)
        return Workshop(model, at_hand(shelf), surface_of(piece, on_piece, shelf))

    def verdict() -> Comparison:
        return compare_marked(marked, marked, card, piece.tolerance)

    found, before = verdict(), len(trials) - 1
    gap, old = gap_of(found), found.original
    alone = {
        VERDICT: _seconds(verdict),
        PLAN: _seconds(lambda: plan_for(gap, workshop(before))),
        LAYER: _seconds(lambda: plan_for(gap, workshop(len(trials)))),
    }
    known, ground = workshop(before), ground_of(piece, trials[:0], shelf)
    return alone | {
        STRIPS: _seconds(lambda: choose_strips(gap, known, ground)),
        LEAF: _seconds(lambda: propose_leaf(known, old.lab, old.covariance)),
        LOGBOOK: _seconds(logbook.kept_trials),
    }


def _seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


if __name__ == "__main__":
    main()
