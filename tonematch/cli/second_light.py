"""A photograph of the same pair under a second light, as it is typed behind `compare`."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

import typer

from tonematch.cli import typed
from tonematch.cli.marking import TypedAids, by_role
from tonematch.errors import AreaError
from tonematch.measure.marked import Marked

_BESIDE_CARD = ("card", "white", "black", "neutral", "chart_corners")


@dataclass(frozen=True)
class SecondLight:
    """What was typed for a photograph under a second light."""

    second_light: Annotated[
        Path | None,
        typer.Option(
            help="A photograph of the same pair, with the card, under another light, such as where "
            "it will hang; --flat and --camera-profile are not used on it."
        ),
    ] = None
    second_light_card: Annotated[
        typed.Shape | None, typed.shape(help="The card in that photograph; as --card unless given.")
    ] = None
    second_light_original: Annotated[
        typed.Shape | None, typed.shape(help="The old gold in it; as --original unless given.")
    ] = None
    second_light_repair: Annotated[
        typed.Shape | None, typed.shape(help="The new gold in it; as --repair unless given.")
    ] = None
    second_light_white: Annotated[
        typed.Shape | None,
        typed.shape(help="The white card in it; as --white unless this or its card is given."),
    ] = None
    second_light_black: Annotated[
        typed.Shape | None, typed.shape(help="The black card in it, likewise.")
    ] = None
    second_light_neutral: Annotated[
        list[typed.Neutral] | None,
        typed.neutral(help="In it; as --neutral unless this or its card is given."),
    ] = None
    second_light_chart_corners: Annotated[
        typed.Corners | None,
        typed.corners(help="In it; as --chart-corners unless this or its card is given."),
    ] = None

    def marked(self, aids: TypedAids, **shapes: typed.Shape) -> "tuple[Marked, list[str]] | None":
        """That photograph, and what is to be said of its cards.

        What was typed for the first photograph holds for it unless typed anew.

        Where its card is, so is what else lies beside the card: white and black card,
        neutrals, chart, further cards.

        Parameters
        ----------
        shapes : Shape
            Of original and repair in the first photograph, pixels.

        Raises
        ------
        AreaError
            Where marks are typed without it.
        """
        if self.second_light is None:
            if self != SecondLight():
                raise AreaError(
                    "Marks for a second light need its photograph: give it with --second-light, or "
                    "leave them out."
                )
            return None
        # A plain sheet and a profile are of one light.
        changed: dict[str, Any] = dict.fromkeys(("flat", "camera_profile"))
        if self.second_light_card is not None:
            changed |= dict.fromkeys((*_BESIDE_CARD, "other_card"))
        typed_there = {name: getattr(self, f"second_light_{name}") for name in _BESIDE_CARD}
        changed |= {name: there for name, there in typed_there.items() if there}
        own = replace(aids, **changed)
        anew = {role: getattr(self, f"second_light_{role}") or shapes[role] for role in shapes}
        return own.marked(self.second_light, by_role(**anew), "--second-light-{}")
