"""Options that more than one command takes."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from tonematch.cli import typed
from tonematch.errors import LogbookError
from tonematch.logbook.photo_folder import is_address
from tonematch.swatchbook import limits

if TYPE_CHECKING:
    from tonematch.logbook.store import Logbook

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
CardBox = Annotated[
    typed.Shape | None,
    typed.shape(
        help="The grey card. BOX is x,y,w,h in pixels of the upright picture, or corners, 'x,y x,y "
        "x,y'. Looked for unless given, with white and black cards beside it."
    ),
]
Original = Annotated[typed.Shape, typed.shape(help="The old gold.")]
Repair = Annotated[typed.Shape, typed.shape(help="The new gold.")]
ChartCorners = Annotated[
    typed.Corners | None,
    typed.corners(help="Or its corners: the outer ones of the four corner patches."),
]
TrialFile = Annotated[
    Path | None, typer.Option("--trials", help="Trials as CSV; those of the logbook unless given.")
]


def open_logbook(named: str | Path | None) -> "Logbook":
    """The logbook; the library of its database is loaded only by who opens one."""
    from tonematch.logbook import store

    return store.open_logbook(named)


def _refuse_no_logbook(named: str | None) -> str | None:
    """A mistyped path is told, where an empty logbook would answer with nothing."""
    if named is not None and not is_address(named) and not Path(named).exists():
        raise LogbookError(
            f"There is no logbook {named}: check its path; 'tonematch pieces add', 'shelf add', "
            "'trials import' and 'bench' make a new one."
        )
    return named


LogbookPath = Annotated[
    str | None,
    typer.Option(
        "--logbook",
        metavar="PATH",
        help="Another logbook than the usual one, by its path or the address of its database.",
        callback=_refuse_no_logbook,
    ),
]
NewLogbookPath = Annotated[
    str | None,
    typer.Option(
        "--logbook",
        metavar="PATH",
        help="Another logbook than the usual one; made where there is none.",
    ),
]
USUAL_TOLERANCE = limits("comparison")["usual_tolerance"]
Tolerance = Annotated[float, typer.Option(help="Greatest CIEDE2000 that counts as a match.")]
PieceTolerance = Annotated[
    float | None,
    typer.Option(
        help="Greatest CIEDE2000 that counts as a match; the piece's, or else "
        f"{USUAL_TOLERANCE:g}, unless given."
    ),
]
TechniqueName = Annotated[
    Literal["water", "oil", "unknown"], typer.Option(help="How the leaf was laid.")
]
FinishName = Annotated[
    Literal["burnished", "matte", "unknown"], typer.Option(help="How it was finished.")
]
GlassName = Annotated[
    Literal["none", "new mirror", "old mirror", "unknown"],
    typer.Option(help="The mirror that it frames; old is silvered before about 1900."),
]
SurfaceNow = Annotated[typed.Lab, typed.lab("--from", help="The surface now (D50, 2 degree).")]
PieceName = Annotated[
    str | None,
    typer.Option("--piece", help="A piece of the logbook: its gilding, and what lies on it."),
]
ZoneName = Annotated[
    str, typer.Option("--zone", help="Which gold of the piece, where it has more than one.")
]
Humidity = Annotated[
    float | None, typer.Option("--humidity", help="Relative humidity of the workshop, in %.")
]
Temperature = Annotated[
    float | None, typer.Option("--temperature", help="Of the workshop, in degrees Celsius.")
]
PotVolume = Annotated[
    typed.Pot | None, typed.pot("--pot", help="How much to mix, such as 50ml; 20ml unless given.")
]
ShelfNames = Annotated[
    str | None, typer.Option(help="Layers at hand, NAME,NAME,...; those with trials unless given.")
]
Reason = Annotated[str, typer.Option(help="Why; kept with the change.")]
