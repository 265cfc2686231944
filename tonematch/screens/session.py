"""What the bench holds between two touches of the screen."""

import sys
from argparse import ArgumentParser
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Literal, cast

import streamlit as st

from tonematch.measure.core import Comparison
from tonematch.screens.marking import Marks
from tonematch.toning.core import Plan

Room = Literal["Piece", "Photograph", "Compare", "Plan", "Lay a layer", "Trials"]
ROOMS: tuple[Room, ...] = ("Piece", "Photograph", "Compare", "Plan", "Lay a layer", "Trials")


@dataclass(frozen=True)
class Shot:
    """A photograph that was handed over, with its bytes unchanged."""

    name: str
    source: bytes

    @property
    def sha256(self) -> str:
        """Content hash, 64 hex digits."""
        return sha256(self.source).hexdigest()


@dataclass
class Bench:
    """The state of one person's work.

    Attributes
    ----------
    piece : int or None
        Row of the piece in the logbook.
    shots : dict
        Photographs by their place on the bench: "both", "original", "repair", "after".
    marks : dict
        Marks by place and content hash, so that a picture keeps its marks.
    comparison : Comparison or None
        The latest one of this piece.
    comparison_row : int or None
        Its row in the logbook once it is kept.
    plan : Plan or None
        The plan that was chosen.
    message : str
        Said once, at the top of the next page.
    """

    piece: int | None = None
    shots: dict[str, Shot] = field(default_factory=dict)
    marks: dict[str, Marks] = field(default_factory=dict)
    comparison: Comparison | None = None
    comparison_row: int | None = None
    plan: Plan | None = None
    message: str = ""


def bench() -> Bench:
    """The bench of this browser tab."""
    if "bench" not in st.session_state:
        st.session_state["bench"] = Bench()
    return cast(Bench, st.session_state["bench"])


def go_to(room: Room, message: str = "") -> None:
    """Show another page, with a sentence at its top."""
    bench().message = message
    st.session_state["next_room"] = room
    st.rerun()


def logbook_path(arguments: Sequence[str] | None = None) -> Path | None:
    """The ``--logbook PATH`` after the script's name, or None for the usual place."""
    parser = ArgumentParser(add_help=False, exit_on_error=False)
    parser.add_argument("--logbook", type=Path, default=None)
    known, _ = parser.parse_known_args(sys.argv[1:] if arguments is None else list(arguments))
    return cast("Path | None", known.logbook)
