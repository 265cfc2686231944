"""What the logbook keeps and gives back: pieces, photographs, and each thing with its date.

Times are ISO 8601 in UTC, to the second; ``made_at`` is when the thing was written down.
"""

import os
import platform
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tonematch.arrays import Vector3
from tonematch.errors import LogbookError
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.colour.difference import USUAL_TOLERANCE
from tonematch.measure.core import Area, Calibration, Comparison, Reading
from tonematch.toning.core import (
    Application,
    Finish,
    Glass,
    Kind,
    Layer,
    Prediction,
    Proposal,
    Strip,
    Surface,
    Technique,
    Trial,
)
from tonematch.toning.layers.shelf import boles_named
from tonematch.toning.planning.ground import Ground


@dataclass(frozen=True)
class Piece:
    """A gilded object as the gilder describes it, or one zone of it: a gold of its own."""

    name: str  # unique in the logbook, but for the zones of one piece
    technique: Technique = "unknown"
    finish: Finish = "unknown"
    bole: str = ""  # its colour
    leaf: str = ""  # carat or colour
    hangs_in: str = ""  # place and light
    wish: str = ""  # what the owner wants: bright, aged in
    tolerance: float = USUAL_TOLERANCE  # greatest CIEDE2000 that counts as a match
    viewing_distance_m: float | None = None  # from where it will be seen
    notes: str = ""
    invented: bool = False  # demonstration data
    laid_before: tuple[str, ...] = ()  # layers on the repair before its first trial, lowest first
    gilded_at: str = ""  # when the gold was laid; empty when nobody knows
    historic: bool = False  # the gold being toned is itself old
    unknown_coating: bool = False  # an old coating that nobody can name lies on it
    humidity: float | None = None  # relative, of the workshop as it was told last, 0 to 100 %
    temperature: float | None = None  # likewise, degrees Celsius
    air_told_at: str = ""  # when the two were told; empty where they were not
    glass: Glass = "unknown"  # that it frames; an old mirror was silvered before about 1900
    zone: str = ""  # which gold of the piece this is; empty where it has one only
    damage: str = ""  # for its record: what was damaged
    condition: str = ""  # in what condition it came
    extent: str = ""  # where the repair lies and how large it is
    done_by: str = ""
    makers: tuple[tuple[str, str], ...] = ()  # of what was laid, by layer: maker and batch

    @property
    def title(self) -> str:
        """The piece, and which of its golds: ``hall mirror, burnished edge``."""
        return ", ".join(filter(None, (self.name, self.zone)))

    def with_makers(self, told: Mapping[str, str]) -> "Piece":
        """The piece with what was told of makers and batches by layer; what is empty, without."""
        makers = dict(self.makers) | {name: words.strip() for name, words in told.items()}
        return replace(self, makers=tuple((n, words) for n, words in makers.items() if words))

    def surface(self, beneath: tuple[Layer, ...] = ()) -> Surface:
        """Its gilding as the rules of layering see it now, with these layers on it."""
        return Surface(
            self.technique,
            self.finish,
            beneath,
            hours_since_gilding=_hours_since(self.gilded_at) if self.gilded_at else None,
            historic=self.historic,
            unknown_coating=self.unknown_coating,
            humidity=self.humidity,
            temperature=self.temperature,
            boles=boles_named(self.bole),
            leaf=self.leaf,
            glass=self.glass,
        )


# What is said of a piece as a whole, and so of every zone of it.
OF_THE_WHOLE = (
    *("name", "hangs_in", "wish", "viewing_distance_m", "invented"),
    *("humidity", "temperature", "air_told_at", "glass", "done_by", "makers"),
)


@dataclass(frozen=True)
class Air:
    """The air of the workshop: degrees Celsius, relative humidity in %, and when it was told."""

    temperature: float | None = None
    humidity: float | None = None
    told_at: str = ""

    @property
    def words(self) -> str:
        """What is known of it: ``18 °C, 55 % relative humidity``."""
        warm = None if self.temperature is None else f"{self.temperature:g} °C"
        damp = None if self.humidity is None else f"{self.humidity:g} % relative humidity"
        return ", ".join(filter(None, (warm, damp)))


def moment_text(moment: datetime) -> str:
    """A moment as the logbook writes it."""
    return moment.astimezone(UTC).isoformat(timespec="seconds")


def moment_of(text: str) -> datetime:
    """A moment that the logbook holds, in the time of this place; LogbookError where it is none."""
    try:
        return datetime.fromisoformat(text).astimezone()
    except (ValueError, OverflowError) as error:
        raise LogbookError(
            f"{text!r} is not when gold was laid: give a date and a time, or leave it empty."
        ) from error


def _hours_since(moment: str) -> float:
    """Whole hours, so that what was worked out for a surface stays good for one of them."""
    return float(max(0, (datetime.now(UTC) - moment_of(moment)) // timedelta(hours=1)))


@dataclass(frozen=True)
class KeptPhoto:
    """An original file, kept under the hash of its bytes."""

    sha256: str
    file_name: str
    size: int
    path: Path
    made_at: str


@dataclass(frozen=True, eq=False)
class KeptAids:
    """What helped to calibrate a photograph beside its card.

    `aids.flat_field` is None; the plain sheet's picture is kept as the photograph `sheet_sha256`.
    """

    aids: Aids
    sheet_sha256: str = ""


@dataclass(frozen=True, eq=False)
class KeptReading:
    """A reading, with its calibration where that was given, and what else that stood on."""

    id: int
    reading: Reading
    made_at: str
    aids: KeptAids | None = None

    @property
    def calibration(self) -> Calibration | None:
        """What it was read with."""
        return self.reading.calibration

    @property
    def areas(self) -> dict[str, tuple[Area, ...]]:
        """What was marked on each photograph, by SHA-256: the card and the area that was read."""
        marked: dict[str, tuple[Area, ...]] = {}
        if self.calibration is not None:
            photo = self.calibration.photo_sha256 or self.reading.photo_sha256
            marked[photo] = (self.calibration.card,)
        photo = self.reading.photo_sha256
        return marked | {photo: (*marked.get(photo, ()), self.reading.area)}


@dataclass(frozen=True, eq=False)
class KeptComparison:
    """A comparison and the two readings that it stands on.

    `findings` are sentences on what was found beside the colour: evenness, the look from afar,
    lustre.
    """

    id: int
    comparison: Comparison
    original: KeptReading
    repair: KeptReading
    made_at: str
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class KeptProposal:
    """Plans as they were proposed for a piece."""

    id: int
    proposal: Proposal
    comparison_id: int | None
    made_at: str


@dataclass(frozen=True, eq=False)
class KeptTrial:
    """A trial, with its readings where it was read from photographs."""

    id: int
    trial: Trial
    before: KeptReading | None
    after: KeptReading | None
    prediction: Prediction | None  # what the layer model had foretold
    cautions: tuple[str, ...]  # rules of layering that the trial touched
    excluded: bool  # nothing is to be learned from it; it stays in the logbook
    made_at: str


@dataclass(frozen=True, eq=False)
class LayerInProgress:
    """A layer that was laid and waits for the photograph after it.

    `before` is the comparison that it was laid from, `prediction` what the layer model foretold,
    `cautions` are the rules of layering that it touches; it was laid at `laid_at`, in the air of
    `temperature` and `humidity` as a trial has them, and is dry from `dry_at`.
    """

    id: int
    piece: str
    zone: str
    application: Application
    before: Comparison
    prediction: Prediction
    cautions: tuple[str, ...]
    laid_at: str
    dry_at: str
    temperature: float | None = None
    humidity: float | None = None


@dataclass(frozen=True, eq=False)
class KeptStrips:
    """A sheet of test strips, as it was printed for a piece, and what they stand on."""

    id: int
    strips: tuple[Strip, ...]
    ground: Ground
    made_at: str


@dataclass(frozen=True, eq=False)
class TonePair:
    """Two golds to train an eye on.

    Attributes
    ----------
    old, new : ndarray, shape (3,)
        CIELAB (D50, 2 degree) of the gold to reach, and of the one that is toned.
    laid : Trial or None
        What was laid on the new one next.
    comparison : KeptComparison or None
        Where the two were read; of a trial alone the old one is what it came to.
    """

    piece: str
    old: Vector3
    new: Vector3
    laid: Trial | None
    comparison: KeptComparison | None = None

    @classmethod
    def of_trial(cls, trial: Trial) -> "TonePair":
        """What a trial came to, and what it was laid on."""
        return cls(trial.piece, trial.after, trial.application.before, trial)


@dataclass(frozen=True)
class Judgement:
    """What was said of a pair of golds by eye, and what was measured; empty what was not asked."""

    way: str  # said: which way the new gold is off
    ways_read: tuple[str, ...]  # measured: all ways in which it is off, the heaviest first
    far: str
    far_read: str
    layer: str = ""  # what one would lay
    laid: str = ""  # in truth


TO_COMPARE = "photograph "  # how a draft's name of a photograph of the pair to be compared begins


@dataclass(frozen=True, eq=False)
class Draft:
    """What lies on the bench for a piece and is not kept yet, by name.

    `values` are plain ones (text, numbers, lists of them); `photographs` are bytes and file name.
    """

    values: Mapping[str, Any] = field(default_factory=dict)
    photographs: Mapping[str, tuple[bytes, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class RecipeStep:
    """One layer of a recipe, as it was mixed and laid."""

    layer: str
    kind: Kind
    strength: float
    coats: int = 1


@dataclass(frozen=True)
class RecipeUse:
    """A recipe as it was laid on a piece, from the moment when it was taken up.

    `before` and `after` are CIEDE2000 from the old gold when it was taken up, and after the last of
    the steps that are laid; None where the piece was not compared, or nothing is laid yet.
    """

    id: int
    piece: str
    zone: str
    made_at: str
    laid: int  # how many of its steps have been logged since, one after the other
    left: bool  # something else was laid before its end
    before: float | None
    after: float | None


@dataclass(frozen=True)
class Recipe:
    """Layers in order with strengths, kept under a name; its uses, oldest first."""

    name: str
    steps: tuple[RecipeStep, ...]
    note: str
    made_at: str
    uses: tuple[RecipeUse, ...] = ()


@dataclass(frozen=True)
class Change:
    """Trace of something that was altered: why, when, and at which bench."""

    id: int
    subject: str
    words: str
    reason: str
    made_at: str
    bench: str


@dataclass(frozen=True)
class Act:
    """What was done by one press: the number of its first change, what, why, when and where."""

    number: int
    words: str
    reason: str
    made_at: str
    bench: str


@dataclass(frozen=True, eq=False)
class PieceHistory:
    """All that the logbook holds about one piece, or one zone of it, oldest first."""

    piece: Piece
    made_at: str
    photographs: tuple[KeptPhoto, ...] = ()
    comparisons: tuple[KeptComparison, ...] = ()
    proposals: tuple[KeptProposal, ...] = ()
    trials: tuple[KeptTrial, ...] = ()
    changes: tuple[Change, ...] = ()
    layers: tuple[Layer, ...] = ()
    in_progress: LayerInProgress | None = None


def bench_name() -> str:
    """What this bench is called: TONEMATCH_BENCH, or else the name of the machine."""
    return os.environ.get("TONEMATCH_BENCH", "").strip() or platform.node()
