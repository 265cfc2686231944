"""Where a piece stands on the bench, and which step of the job is next."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal, get_args

from tonematch.logbook.core import Piece
from tonematch.measure.core import Area, Verdict

JobStep = Literal["Photograph", "Compare", "Plan", "Lay a layer", "Record"]
StepState = Literal["done", "now", "not yet"]
STEPS: tuple[JobStep, ...] = get_args(JobStep)


@dataclass(frozen=True)
class Standing:
    """Where a piece, or one zone of it, stands; texts are empty where it has no such thing."""

    piece: Piece
    begun: bool = False  # a photograph was handed over and is not compared yet
    on_bench: bool = True  # added to be worked on, not known from a table of trials alone
    verdict: Verdict | None = None  # of its latest comparison
    planned: bool = False  # from that comparison
    laid: str = ""  # the layer that lies there and is not read yet
    dry_at: str = ""
    photo_sha256: str = ""  # of its latest kept photograph
    file_name: str = ""
    areas: tuple[Area, ...] = ()  # what was compared on that photograph

    def is_drying(self) -> bool:
        """Whether the layer that lies there is still wet."""
        return bool(self.laid) and datetime.now(UTC) < datetime.fromisoformat(self.dry_at)

    @property
    def step(self) -> JobStep:
        """What is next to do."""
        if self.laid:
            return "Lay a layer"  # which ends with its photograph
        if self.begun or self.verdict is None:
            return "Photograph"
        if self.verdict == "match":
            return "Record"
        if self.verdict == "too close to call":
            return "Compare"
        return "Lay a layer" if self.planned else "Plan"

    def steps(self) -> dict[JobStep, StepState]:
        """Every step of the job with its state."""
        next_at = STEPS.index(self.step)
        return {
            step: "done" if at < next_at else "now" if at == next_at else "not yet"
            for at, step in enumerate(STEPS)
        }

    @property
    def words(self) -> str:
        """Where it stands, in a gilder's words: ``drying until 15:05``."""
        if self.is_drying():
            return f"{self.laid} drying until {_clock(self.dry_at)}"
        if self.begun:
            return "photographed, not compared yet"
        if self.laid:
            return f"ready to photograph, {self.laid} is dry"
        if self.verdict is None:
            return "not yet photographed" if self.on_bench else "known by what was laid on it"
        unmatched = "ready to lay" if self.planned else "ready to plan"
        return {"match": "near enough", "no match": unmatched}.get(self.verdict, self.verdict)


def _clock(moment: str) -> str:
    """The time of day, with the day where that is another than today."""
    there, today = datetime.fromisoformat(moment).astimezone(), datetime.now().astimezone()
    day = "" if there.date() == today.date() else f"{there.day} {there:%b} "
    return f"{day}{there:%H:%M}"
