"""Options that more than one command takes."""

from pathlib import Path
from typing import Annotated

import typer

from tonematch.errors import LogbookError

BOX = "x,y,w,h in pixels of the upright picture"
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
CardBox = Annotated[str, typer.Option("--card", help=f"The grey card: {BOX}.")]
Original = Annotated[str, typer.Option(help=f"The old gold: {BOX}.")]
Repair = Annotated[str, typer.Option(help=f"The new gold: {BOX}.")]
Reflectance = Annotated[
    float | None, typer.Option(help="What the card reflects, 0 to 1; 0.18 unless given.")
]
CardLab = Annotated[
    str | None, typer.Option(help="Or the card's measured L*,a*,b* (D50, 2 degree).")
]
Neutral = Annotated[
    list[str] | None,
    typer.Option(
        help=f"A further grey of known value, BOX=REFLECTANCE: {BOX}, and 0 to 1; repeat for more."
    ),
]
OtherCard = Annotated[
    list[str] | None,
    typer.Option(help="The same card elsewhere in the picture, for uneven light; repeat for more."),
]
EncodingName = Annotated[
    str,
    typer.Option(
        help="profile: as the file says; linear: its values are linear light, whatever it says."
    ),
]
FindChart = Annotated[bool, typer.Option("--chart", help="Find a 24-patch chart and use it.")]
ChartCorners = Annotated[
    str | None,
    typer.Option(
        help="Or its corners, x1,y1,x2,y2,x3,y3,x4,y4: the outer ones of the four corner patches."
    ),
]
Neutral2 = Annotated[
    list[str] | None, typer.Option(help="In the second photograph; as --neutral is written.")
]
OtherCard2 = Annotated[
    list[str] | None, typer.Option(help="In the second photograph; as --other-card is written.")
]
Flat = Annotated[
    Path | None, typer.Option(help="A picture of a plain sheet in the same light and place.")
]
SavedProfile = Annotated[
    Path | None, typer.Option(help="A camera profile saved by 'tonematch profile'.")
]
TrialFile = Annotated[
    Path | None,
    typer.Option("--trials", help="Trials as CSV; those of the logbook unless given."),
]


def _refuse_no_logbook(path: Path | None) -> Path | None:
    """A mistyped path is told, where an empty logbook would answer with nothing."""
    if path is not None and not path.exists():
        raise LogbookError(
            f"There is no logbook {path}: check its path; 'tonematch pieces add', 'shelf add', "
            "'trials import' and 'bench' make a new one."
        )
    return path


LogbookPath = Annotated[
    Path | None,
    typer.Option(
        "--logbook", help="Another logbook than the usual one.", callback=_refuse_no_logbook
    ),
]
NewLogbookPath = Annotated[
    Path | None,
    typer.Option("--logbook", help="Another logbook than the usual one; made where there is none."),
]
Tolerance = Annotated[float, typer.Option(help="Greatest CIEDE2000 that counts as a match.")]
TechniqueName = Annotated[str, typer.Option(help="water, oil or unknown.")]
FinishName = Annotated[str, typer.Option(help="burnished, matte or unknown.")]
ShelfNames = Annotated[
    str | None,
    typer.Option(help="Layers at hand, NAME,NAME,...; those with trials unless given."),
]
Reason = Annotated[str, typer.Option(help="Why; kept with the change.")]
