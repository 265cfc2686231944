"""Print how often the loop of plan, layer and reading ends within tolerance on the simulator.

Run ``python -m tests.toning.loop_table [--cases N] [--first SEED] [--jobs J]`` from the root, with
``--only loop`` or ``--only reach`` for one of the two tables. Slow: some seconds for each case.

Two tables. With all ten layers: how near the toned gold truly comes when the gilder mixes eighths
or quarters of full strength, beside the same loop with the nearest trial's shift for a model. The
model learns anew after every layer. With four layers drawn at random, by which many targets cannot
be reached, and with all ten: how often the first proposal says so, and how often it errs.
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass
from itertools import repeat

import numpy as np

from tests.toning.closed_loop import (
    PARTS,
    TOLERANCE,
    Learn,
    NearestTrial,
    close_gap,
    first_gap,
    learn,
    make_case,
    nearest_in_truth,
)
from tonematch.toning.planning.plan import plan_for

FEW_LAYERS, ALL_LAYERS = 4, 10
EDGE = 0.5
"""Nearer than this to the tolerance, in CIEDE2000, nobody can tell whether a shelf reaches."""


@dataclass(frozen=True)
class Row:
    """What became of one case: truth's nearest, CIEDE2000 and overshoot at the end, layers laid."""

    nearest: float
    far: float
    overshoot: float
    layers: int


def run_case(seed: int, parts: int = PARTS, learn: Learn = learn) -> Row:
    """One case with all layers, full strength divided into so many parts."""
    case = make_case(seed, parts=parts)
    ended = close_gap(case, learn)
    return Row(nearest_in_truth(case), ended.far, ended.overshoot, len(ended.rounds))


def judge_case(seed: int, layers: int) -> tuple[float, bool]:
    """Truth's nearest with so many layers, and whether the first proposal says it is too far."""
    case = make_case(seed, layers)
    return nearest_in_truth(case), plan_for(*first_gap(case)).missing != ""


def share_within(rows: Sequence[Row]) -> float:
    """Share of the cases that can be reached whose end lies within the tolerance."""
    return float(np.mean([row.far <= TOLERANCE for row in rows if row.nearest <= TOLERANCE]))


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description="The loop on the simulator.")
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="the first case's seed")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--only", choices=["loop", "reach"])
    arguments = parser.parse_args()
    seeds = range(arguments.first, arguments.first + arguments.cases)
    with ProcessPoolExecutor(arguments.jobs) as pool:
        if arguments.only != "reach":
            _show_loops(pool, seeds)
        if arguments.only != "loop":
            _show_reach(pool, seeds)


def _show_loops(pool: Executor, seeds: Sequence[int]) -> None:
    print(f"{'':<30}{'cases':>6}{'reachable':>10}{'within':>8}{'median CIEDE2000':>18}", end="")
    print(f"{'median overshoot in L*':>24}{'layers':>8}", flush=True)
    for title, parts, way in (
        ("layer model, eighths", 8, learn),
        ("nearest trial, eighths", 8, NearestTrial),
        ("layer model, quarters", 4, learn),
    ):
        _show(title, list(pool.map(run_case, seeds, repeat(parts), repeat(way))))


def _show_reach(pool: Executor, seeds: Sequence[int]) -> None:
    print("\nIs it said of a target that the shelf cannot reach it?")
    judged: list[tuple[float, bool]] = []
    for layers in (FEW_LAYERS, ALL_LAYERS):
        these = list(pool.map(judge_case, seeds, repeat(layers)))
        _show_judged(f"shelves of {layers} layers", these)
        judged += these
    _show_judged("together", judged)
    clear = [row for row in judged if abs(row[0] - TOLERANCE) > EDGE]
    _show_judged(f"of these more than {EDGE} from the tolerance", clear)


def _show(title: str, rows: Sequence[Row]) -> None:
    reachable = [row for row in rows if row.nearest <= TOLERANCE]
    far = float(np.median([row.far for row in reachable]))
    overshoot = float(np.median([row.overshoot for row in reachable]))
    layers = float(np.mean([row.layers for row in reachable]))
    print(
        f"{title:<30}{len(rows):6d}{len(reachable):10d}{share_within(rows):8.0%}{far:18.2f}",
        end="",
    )
    print(f"{overshoot:24.2f}{layers:8.1f}", flush=True)


def _show_judged(title: str, judged: Sequence[tuple[float, bool]]) -> None:
    out = [said for near, said in judged if near > TOLERANCE]
    reach = [said for near, said in judged if near <= TOLERANCE]
    print(f"{title}: out of reach, found {sum(out)} of {len(out)}; ", end="")
    print(f"within reach, false alarms {sum(reach)} of {len(reach)}", flush=True)


if __name__ == "__main__":
    main()
