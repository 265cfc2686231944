"""Print how often the loop of plan, layer and reading ends within tolerance on the simulator.

Run ``python tests/toning/loop_table.py [--cases N] [--jobs J]`` from the root. Slow: some seconds
for each case.

Two tables. With all ten layers: how near the toned gold truly comes, beside the same loop with the
nearest trial's shift for a model. With four layers drawn at random, by which many targets cannot be
reached: how often the first proposal says so.
"""

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import repeat

import numpy as np
from closed_loop import (
    TOLERANCE,
    NearestTrial,
    close_gap,
    first_proposal,
    learn,
    make_case,
    nearest_in_truth,
)

FEW_LAYERS = 4
EDGE = 0.5
"""Targets that the shelf comes to the tolerance within this much, in CIEDE2000, are told apart."""


@dataclass(frozen=True)
class Row:
    """What became of one case: truth's nearest, CIEDE2000 and overshoot at the end, layers laid."""

    nearest: float
    far: float
    overshoot: float
    layers: int


def run_case(seed: int, method: str = "layer model") -> Row:
    """One case with all layers."""
    case = make_case(seed)
    ended = close_gap(case, learn if method == "layer model" else NearestTrial)
    return Row(nearest_in_truth(case), ended.far, ended.overshoot, len(ended.rounds))


def judge_case(seed: int) -> tuple[float, bool]:
    """Truth's nearest with few layers, and whether the first proposal says that it is too far."""
    case = make_case(seed, FEW_LAYERS)
    return nearest_in_truth(case), first_proposal(case).missing != ""


def share_within(rows: Sequence[Row]) -> float:
    """Share of the cases that can be reached whose end lies within the tolerance."""
    return float(np.mean([row.far <= TOLERANCE for row in rows if row.nearest <= TOLERANCE]))


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description="The loop on the simulator.")
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--jobs", type=int, default=2)
    arguments = parser.parse_args()
    seeds = range(arguments.cases)
    with ProcessPoolExecutor(arguments.jobs) as pool:
        print(f"{'':<16}{'cases':>6}{'reachable':>10}{'within':>8}{'median CIEDE2000':>18}", end="")
        print(f"{'median overshoot in L*':>24}{'layers':>8}")
        for method in ("layer model", "nearest trial"):
            _show(method, list(pool.map(run_case, seeds, repeat(method))))
        judged = list(pool.map(judge_case, seeds))
    print(f"\nShelves of {FEW_LAYERS} layers: is it said that the target cannot be reached?")
    for title, chosen in (
        ("all", lambda _: True),
        (f"not within {EDGE} of the tolerance", lambda near: abs(near - TOLERANCE) > EDGE),
    ):
        _show_judged(title, [row for row in judged if chosen(row[0])])


def _show(method: str, rows: Sequence[Row]) -> None:
    reachable = [row for row in rows if row.nearest <= TOLERANCE]
    far = float(np.median([row.far for row in reachable]))
    overshoot = float(np.median([row.overshoot for row in reachable]))
    layers = float(np.mean([row.layers for row in reachable]))
    print(
        f"{method:<16}{len(rows):6d}{len(reachable):10d}{share_within(rows):8.0%}{far:18.2f}",
        end="",
    )
    print(f"{overshoot:24.2f}{layers:8.1f}", flush=True)


def _show_judged(title: str, judged: Sequence[tuple[float, bool]]) -> None:
    out = [said for near, said in judged if near > TOLERANCE]
    reach = [said for near, said in judged if near <= TOLERANCE]
    print(f"{title}: {sum(out)} of {len(out)} out of reach found ({np.mean(out):.0%}), ", end="")
    print(f"{sum(reach)} of {len(reach)} within reach called so ({np.mean(reach):.0%})")


if __name__ == "__main__":
    main()
