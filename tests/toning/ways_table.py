"""Print how near each way of toning comes to old gold on the second simulator, and what it said.

Run ``python -m tests.toning.ways_table [--cases N] [--first SEED] [--jobs J] [--only WAY ...]
[--kept FILE] [--simulator first]`` from the root. Slow: half a minute for each case.

Two tables. How the ways end on the same old surfaces, all of which the shelf can truly reach, with
95 % intervals by bootstrap over workshops, and how often a way wins or loses against 60 trials
alone. And what chances come true: of plans laid blind on a copy, and of the best plan of the first
round, and of every round, with a reading and a new plan after each layer, by fifths of what was
said, with 95 % binomial intervals (Wilson 1927). With a file each case is appended to it as it
ends, and what it holds is not run again. Seeds below 60, 100 to 123, 200 to 260 and 1000 to 1203
were looked at while tonematch was made, 1204 to 1307 were used to set the chances, 1308 to 1367
were run once, after all was made, on 1368 to 1403 a rule for seals was tried and not taken, and
1404 to 1563 were run once, after films were made to teach each other (1404 to 1484 before that,
too): whoever changes it takes 1564 and above.
"""

import argparse
import json
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import binomtest

from tests.toning.closed_loop import TOLERANCE, Array
from tests.toning.simulated import Simulated
from tests.toning.simulator import FIRST
from tests.toning.ways import WAYS, Ran, run_case

TOO_DARK = 1.0
RESAMPLED = 4000
BESIDE = "60 trials"


def main() -> None:
    """Run the cases and print both tables."""
    parser = argparse.ArgumentParser(description="Ways of toning on the second simulator.")
    parser.add_argument("--cases", type=int, default=120)
    parser.add_argument("--first", type=int, default=1564, help="the first case's seed")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--only", nargs="+", choices=WAYS, default=list(WAYS), metavar="WAY")
    parser.add_argument("--kept", type=Path, help="where cases are kept as JSON lines")
    parser.add_argument("--simulator", choices=["first", "second"], default="second")
    arguments = parser.parse_args()
    seeds = range(arguments.first, arguments.first + arguments.cases)
    workshop = FIRST if arguments.simulator == "first" else None
    ran = run_all(seeds, arguments.only, arguments.jobs, arguments.kept, workshop)
    show_ends(ran, arguments.only)
    for title, said in chances(ran).items():
        show_chances(title, said)


def run_all(
    seeds: Sequence[int],
    ways: Sequence[str],
    jobs: int,
    kept: Path | None = None,
    workshop: Simulated[Any] | None = None,
) -> list[Ran]:
    """What is kept of these cases, and the others run."""
    found = [ran for ran in _kept(kept) if ran.seed in seeds and ran.way in ways]
    there = {(ran.seed, ran.way) for ran in found}
    left = {seed: [way for way in ways if (seed, way) not in there] for seed in seeds}
    with ProcessPoolExecutor(jobs) as pool:
        running = [pool.submit(run_case, n, todo, workshop) for n, todo in left.items() if todo]
        for done in as_completed(running):
            found += done.result()
            if kept is not None:
                with kept.open("a", encoding="utf-8") as file:
                    file.writelines(json.dumps(asdict(ran)) + "\n" for ran in done.result())
    return found


def _kept(kept: Path | None) -> list[Ran]:
    lines = kept.read_text(encoding="utf-8").splitlines() if kept and kept.exists() else []
    return [Ran(**json.loads(line)) for line in lines]


def show_ends(ran: Sequence[Ran], ways: Sequence[str]) -> None:
    """One line for each way."""
    print(f"{'':<25}{'cases':>6}{'within':>8}{'95 % interval':>15}{'mean':>7}", end="")
    print(f"{'worst tenth':>13}{'too dark':>10}{'layers':>8}{'days':>6}{'won':>5}{'lost':>6}")
    beside = {one.seed: one.far <= TOLERANCE for one in ran if one.way == BESIDE}
    for way in ways:
        mine = [one for one in ran if one.way == way]
        far = np.array([one.far for one in mine])
        within = far <= TOLERANCE
        low, high = interval(mine)
        pairs = [(near, beside.get(one.seed, near)) for one, near in zip(mine, within, strict=True)]
        won, lost = sum(a and not b for a, b in pairs), sum(b and not a for a, b in pairs)
        dark = np.mean([one.darker > TOO_DARK for one in mine])
        layers, days = np.mean([(one.layers, one.days) for one in mine], axis=0)
        print(
            f"{way:<25}{len(mine):6d}{within.mean():8.0%}{f'{low:.0%} to {high:.0%}':>15}"
            f"{far.mean():7.2f}{np.quantile(far, 0.9):13.2f}{dark:10.0%}{layers:8.1f}{days:6.1f}"
            f"{won:5d}{lost:6d}"
        )


def interval(ran: Sequence[Ran]) -> Array:
    """The 95 % interval of the share within the tolerance, by bootstrap over workshops, (2,)."""
    workshops = sorted({one.workshop for one in ran})
    within = [[one.far <= TOLERANCE for one in ran if one.workshop == w] for w in workshops]
    came, cases = np.array([(sum(each), len(each)) for each in within]).T
    drawn = np.random.default_rng(0).integers(len(workshops), size=(RESAMPLED, len(workshops)))
    shares = came[drawn].sum(axis=1) / cases[drawn].sum(axis=1)
    return np.asarray(np.quantile(shares, [0.025, 0.975]))


def chances(ran: Sequence[Ran]) -> dict[str, list[tuple[float, bool]]]:
    """What was said, and whether it came: by what was asked and of which way."""
    said: dict[str, list[tuple[float, bool]]] = {}
    for way in (BESIDE, "60 trials and stacks"):
        mine = [one for one in ran if one.way == way]
        if mine:
            blind = [each for one in mine for each in one.blind]
            said[f"laid blind, every plan, {way}"] = [(p, came) for _, p, came in blind]
            said[f"laid blind, the best plan, {way}"] = [(p, came) for n, p, came in blind if not n]
            said[f"read after each layer, the first plan, {way}"] = [
                each for one in mine for each in one.read[:1]
            ]
            said[f"read after each layer, every round, {way}"] = [
                each for one in mine for each in one.read
            ]
    return said


def show_chances(title: str, said: Sequence[tuple[float, bool]]) -> None:
    """One line for each fifth of what was said."""
    print(f"\n{title}\n{'said':>12}{'plans':>7}{'mean':>7}{'came':>7}{'95 % interval':>16}")
    p, came = np.array(said, dtype=float).reshape(-1, 2).T
    for fifth in range(5):
        mine = np.minimum((5.0 * p).astype(int), 4) == fifth
        if mine.any():
            count, yes = int(mine.sum()), int(came[mine].sum())
            sure = binomtest(yes, count).proportion_ci(method="wilson")
            print(
                f"{20 * fifth:>4} to {20 * fifth + 20:>3} %{count:7d}{p[mine].mean():7.0%}"
                f"{yes / count:7.0%}{f'{sure.low:.0%} to {sure.high:.0%}':>16}"
            )


if __name__ == "__main__":
    main()
