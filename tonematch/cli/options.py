"""Options that more than one command takes."""

from pathlib import Path
from typing import Annotated

import typer

BOX = "x,y,w,h in pixels of the upright picture"
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
CardBox = Annotated[str, typer.Option("--card", help=f"The grey card: {BOX}.")]
Original = Annotated[str, typer.Option(help=f"The old gold: {BOX}.")]
Repair = Annotated[str, typer.Option(help=f"The new gold: {BOX}.")]
Reflectance = Annotated[
    float | None, typer.Option(help="What the card reflects, 0 to 1; 0.18 unless given.")
]
CardLab = Annotated[str | None, typer.Option(help="Or the card's measured L*,a*,b* (D50, 2).")]
Neutral = Annotated[
    list[str] | None,
    typer.Option(help=f"BOX=REFLECTANCE of a further neutral, BOX as {BOX}; repeat for more."),
]
OtherCard = Annotated[
    list[str] | None,
    typer.Option(help="The same card elsewhere in the picture, for uneven light; repeat for more."),
]
EncodingName = Annotated[
    str, typer.Option(help="profile, or linear to take the file's values as linear light.")
]
FindChart = Annotated[bool, typer.Option("--chart", help="Find a 24-patch chart and use it.")]
ChartCorners = Annotated[
    str | None,
    typer.Option(
        help="Or its corners, x1,y1,x2,y2,x3,y3,x4,y4: the outer ones of the four corner patches."
    ),
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
LogbookPath = Annotated[
    Path | None, typer.Option("--logbook", help="Another logbook than the usual one.")
]
Tolerance = Annotated[float, typer.Option(help="Greatest CIEDE2000 that counts as a match.")]
TechniqueName = Annotated[str, typer.Option(help="water, oil or unknown.")]
FinishName = Annotated[str, typer.Option(help="burnished, matte or unknown.")]
ShelfNames = Annotated[
    str | None,
    typer.Option(help="Layers at hand, NAME,NAME,...; those with trials unless given."),
]
Reason = Annotated[str, typer.Option(help="Why; kept with the change.")]
