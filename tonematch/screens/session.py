"""What the bench holds between two touches of the screen."""

import sys
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
    """The state of one person's work.

    Attributes
    ----------
    piece : str
        Name of the piece, empty until one is chosen.
    zone : str
        Which gold of it, where it has more than one.
    shots : dict
        Photographs by their place on the bench: "both", "original", "repair", "after-1", ...
    marks : dict
        Marks by place and content hash, so that a picture keeps its marks.
    comparison : Comparison or None
        The latest comparison of this piece.
    repeats : Repeats or None
        The comparisons of single photographs behind it.
    again : tuple of Comparison
        To be combined with that of the next photograph of the same pair.
    kept_comparison : int or None
        Its number in the logbook once it is kept.
    laid : int or None
        Number of the layer in progress that this page knows of.
    kept_proposal : Proposal or None
        The plans that were kept last.
    last : LastLayer or None
        What was laid since the piece came on the bench.
    layer : str
        Name of the layer that the shelf shows.
    closer : Closer or None
        What was looked at more closely, of the comparison that it names.
    message : str
        Said once, at the top of the next page.
    cautions : tuple of str
        Said once, below it.
    original, strip : Reading or None
        Of old gilding beside which no gold has been laid yet, and of a strip of leaf in the same
        photograph.
    doubts : dict
        What was found doubtful when it was last looked for, by the number of the trial.
    aids : dict
        What helped to calibrate each compared photograph, by its content hash.
    answers : dict
        What was answered on the pages by the key of the question, since a page forgets it when
        another one is shown.
    last_act : int or None
        Number of the last thing that was altered in the logbook, as this page knows.
    undo_on : Room or None
        The page on which it is offered to undo that.
    drafted : dict
        What of all this the logbook holds as a draft, by name.
    kept_pictures : dict
        Photographs and marks that are in the logbook already, and so are no draft.
    """

    piece: str = ""
    zone: str = ""
    shots: dict[str, Shot] = field(default_factory=dict)
    marks: dict[str, Marks] = field(default_factory=dict)
    comparison: Comparison | None = None
    repeats: Repeats | None = None
    again: tuple[Comparison, ...] = ()
    kept_comparison: int | None = None
    laid: int | None = None
    kept_proposal: Proposal | None = None
    last: LastLayer | None = None
    closer: Closer | None = None
    layer: str = ""
    message: str = ""
    cautions: tuple[str, ...] = ()
    original: Reading | None = None
    strip: Reading | None = None
    doubts: dict[int, Outlier] = field(default_factory=dict)
    aids: dict[str, Aids] = field(default_factory=dict)
    answers: dict[str, Any] = field(default_factory=dict)
    last_act: int | None = None
    undo_on: Room | None = None
    drafted: dict[str, Any] = field(default_factory=dict)
    kept_pictures: dict[str, Any] = field(default_factory=dict)

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
    bench().message, bench().cautions = message, tuple(cautions)
    ask_for(room)
    st.rerun()


def ask_for(room: Room) -> None:
    """Make another page the next one to be shown."""
    st.session_state["next_room"] = room


def named_logbook(arguments: Sequence[str] | None = None) -> str | None:
    """The ``--logbook PATH`` after the script's name, or None for the usual place."""
    return _after("--logbook", arguments)


def watched_folder(arguments: Sequence[str] | None = None) -> Path | None:
    """The ``--watch FOLDER`` after the script's name, or None where none is watched."""
    folder = _after("--watch", arguments)
    return None if folder is None else Path(folder)


def _after(option: str, arguments: Sequence[str] | None) -> str | None:
    parser = ArgumentParser(add_help=False, exit_on_error=False)
    parser.add_argument(option, dest="word", default=None)
    known, _ = parser.parse_known_args(sys.argv[1:] if arguments is None else list(arguments))
    return cast("str | None", known.word)
