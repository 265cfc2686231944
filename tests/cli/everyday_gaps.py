"""Twelve everyday gaps, invented, as a gilder would type them; `python -m` prints all answers."""

from contextlib import suppress
from dataclasses import dataclass

from tonematch.cli import main
from tonematch.swatchbook import swatch_path

SEALED = ("--technique", "water", "--finish", "burnished", "--laid", "clear shellac seal")
BARE = ("--technique", "water", "--finish", "burnished")
OIL = ("--technique", "oil", "--finish", "matte")


@dataclass(frozen=True)
class Gap:
    """What a surface reads and should read (CIELAB D50, 2 degree), and what is known of it."""

    before: str
    target: str
    known: tuple[str, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """The command that asks for plans, on the invented trials."""
        trials = str(swatch_path("demo", "trials.csv"))
        asked = ("--from", self.before, "--to", self.target, "--trials", trials)
        return ("suggest", *asked, *self.known)


GAPS = {
    "darker": Gap("88,7,35", "78,7,33", SEALED),
    "redder": Gap("86,6,34", "80,11,34", BARE),
    "greener": Gap("86,8,34", "80,5,33", SEALED),
    "greyer": Gap("86,7,34", "78,6,24", SEALED),
    "dirtier": Gap("88,7,35", "68,7,24", BARE),
    "cleaner": Gap("74,7,24", "76,8,32", (*SEALED, "--laid", "grey gouache wash")),
    "lighter, out of reach": Gap("70,8,28", "84,7,34", SEALED),
    "already there": Gap("80,8,32", "80,8.2,32.3", SEALED),
    "huge": Gap("90,7,36", "48,10,22", BARE),
    "over-toned": Gap("68,8,26", "76,8,31", (*SEALED, "--laid", "raw umber wash")),
    "oil gilding, two days old": Gap("86,7,35", "78,8,32", (*OIL, "--hours", "50")),
    "historic piece": Gap(
        "84,7,33", "76,8,30", (*OIL, "--old-gold", "--humidity", "75", "--temperature", "12")
    ),
}

if __name__ == "__main__":
    for name, gap in GAPS.items():
        print(f"\n=== {name}: tonematch suggest --from {gap.before} --to {gap.target} "
              f"{' '.join(gap.known)}", flush=True)  # fmt: skip
        with suppress(SystemExit):
            main(gap.words)
