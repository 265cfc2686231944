"""What the bench holds between two touches of the screen."""

from argparse import ArgumentParser
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal, TypeVar, cast, get_args

import streamlit as st

from tonematch.logbook.core import RecipeStep
from tonematch.logbook.standing import JobStep
from tonematch.measure.appearance.look import SurfaceLook
from tonematch.measure.appearance.lustre_comparison import LustreComparison
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Comparison, Reading
from tonematch.measure.two_lights import TwoLights
from tonematch.screens.marking import Marks
from tonematch.toning.core import Prediction, Proposal, Step, Trial
from tonematch.toning.validation.outliers import Outlier

Room = Literal["Today", "Piece", JobStep, "Logbook", "Shelf", "Help"]
Answer = TypeVar("Answer")
# Places of photographs that are none of the pair: how they, or their places, begin.
SECOND_LIGHT, STRIPS = "second light", "strips"
ROOMS: tuple[Room, ...] = get_args(Room)


@dataclass(frozen=True)
class Shot:
    """A photograph that was handed over, with its bytes unchanged."""

    name: str
    source: bytes

    @property
    def sha256(self) -> str:
        """Content hash, 64 hex digits."""
        return sha256(self.source).hexdigest()


@dataclass(frozen=True, eq=False)
class LastLayer:
    """The layer that was logged last, what had been foretold for it, and what it taught."""

    trial: Trial
    prediction: Prediction
    lesson: str


@dataclass
class Closer:
    """What was found of the surfaces of a comparison beside their colours."""

    comparison: Comparison
    last_step: tuple[str, ...] | None = None  # where it is a match, and was looked for
    surface: SurfaceLook | None = None
    map_png: bytes = b""
    lustre: LustreComparison | None = None
    lights: TwoLights | None = None


@dataclass(frozen=True, eq=False)
class Repeats:
    """Photographs of one pair, compared one by one and then together."""

    singles: tuple[Comparison, ...]
    together: Comparison


@dataclass
class Bench:
    """The state of one person's work; what is found by a hash is found by a picture's content."""

    piece: str = ""  # empty until one is chosen
    zone: str = ""  # which gold of it, where it has more than one
    shots: dict[str, Shot] = field(default_factory=dict)  # by place: "both", "original", "after-1"
    marks: dict[str, Marks] = field(default_factory=dict)  # by place and hash
    comparison: Comparison | None = None  # the latest of this piece
    repeats: Repeats | None = None  # the comparisons of single photographs behind it
    again: tuple[Comparison, ...] = ()  # to be combined with that of the pair's next photograph
    kept_comparison: int | None = None  # its number in the logbook once it is kept
    laid: int | None = None  # number of the layer in progress that this page knows of
    kept_proposal: Proposal | None = None  # the plans that were kept last
    last: LastLayer | None = None  # what was laid since the piece came on the bench
    closer: Closer | None = None  # what was looked at more closely
    layer: str = ""  # the one that the shelf shows
    message: str = ""  # stands at the top until another page is shown
    cautions: tuple[str, ...] = ()  # below it
    original: Reading | None = None  # of old gilding beside which no gold has been laid yet
    strip: Reading | None = None  # of a strip of leaf in the same photograph
    doubts: dict[int, Outlier] = field(default_factory=dict)  # by trial, as last looked for
    aids: dict[str, Aids] = field(default_factory=dict)  # of each compared photograph, by hash
    # By the key of the question, since a page forgets it when another one is shown.
    answers: dict[str, Any] = field(default_factory=dict)
    last_act: int | None = None  # number of what was altered last, as this page knows
    turned: int = 0  # how often a page was asked for
    may_undo: bool = False  # whether it is offered to undo that
    drafted: dict[str, Any] = field(default_factory=dict)  # what the logbook holds as a draft
    kept_pictures: dict[str, Any] = field(default_factory=dict)  # the pair in the logbook

    def singles(self) -> tuple[Comparison, ...]:
        """The comparisons of single photographs behind the latest one."""
        if self.comparison is None:
            return ()
        if self.repeats is not None and self.repeats.together is self.comparison:
            return self.repeats.singles
        return (self.comparison,)

    def take_up(self, piece: str, zone: str = "") -> None:
        """Clear the bench for another piece; for another gold of one, its pictures stay."""
        self.shots = self.shots if piece == self.piece else {}
        self.piece, self.zone, self.marks = piece, zone, {}
        self.comparison = self.kept_comparison = self.kept_proposal = self.original = self.strip = (
            None
        )
        self.laid = self.last = None
        self.repeats, self.again = None, ()
        self.aids, self.answers = {}, {}
        self.drafted, self.kept_pictures = {}, {}

    def lay_next(self, step: Step | RecipeStep | None) -> None:
        """Make a step the answer to what is laid next; None forgets what was said."""
        kept = {key: said for key, said in self.answers.items() if not key.startswith("laying")}
        self.answers = kept
        if step is not None:
            self.remember("laying", step.layer)
            self.remember(f"laying-strength-{step.layer}", float(step.strength))
            self.remember(f"laying-coats-{step.layer}", step.coats)

    def recall(self, key: str, usual: Answer) -> Answer:
        """What was answered to a question before, or the usual answer."""
        return cast(Answer, self.answers.get(key, usual))

    def remember(self, key: str, answer: Answer) -> Answer:
        """Hold an answer for when the page is shown again; gives it back."""
        self.answers[key] = answer
        return answer


def bench() -> Bench:
    """The bench of this browser tab."""
    if "bench" not in st.session_state:
        st.session_state["bench"] = Bench()
    return cast(Bench, st.session_state["bench"])


def go_to(room: Room, message: str = "", cautions: Sequence[str] = ()) -> None:
    """Show another page, with a sentence and cautions at its top."""
    ask_for(room)
    bench().message, bench().cautions = message, tuple(cautions)
    st.rerun()


def ask_for(room: Room) -> None:
    """Make another page the next one to be shown."""
    say_no_more()
    bench().turned += 1
    st.session_state["next_room"] = room


def say_no_more() -> None:
    """Take away what stands at the top, by which all moves up, and the offer at the foot."""
    bench().message, bench().cautions, bench().may_undo = "", (), False


def named_logbook() -> str | None:
    """The ``--logbook PATH`` after the script's name, or None for the usual place."""
    return _after("--logbook")


def watched_folder() -> Path | None:
    """The ``--watch FOLDER`` after the script's name, or None where none is watched."""
    folder = _after("--watch")
    return None if folder is None else Path(folder)


def _after(option: str) -> str | None:
    parser = ArgumentParser(add_help=False, exit_on_error=False)
    parser.add_argument(option, dest="word", default=None)
    known, _ = parser.parse_known_args()
    return cast("str | None", known.word)
