"""What is looked at beside the colour of a pair: evenness, the look from afar, and a map."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from tonematch.cli.as_json import in_json
from tonematch.errors import ValueRefused
from tonematch.in_words import say_look
from tonematch.measure.core import Comparison
from tonematch.photo.core import Photo
from tonematch.wholefile import refuse_ending, refuse_taken, write_new


@dataclass(frozen=True)
class CloserLook:
    """What was typed to look at beside the colour."""

    evenness: Annotated[
        bool, typer.Option("--evenness", help="Compare how the surfaces are mottled, too.")
    ] = False
    card_width: Annotated[
        float | None,
        typer.Option(help="Width of the card as marked, in mm: how both look from afar, too."),
    ] = None
    card_height: Annotated[
        float | None, typer.Option(help="Its height as marked, in mm; with it a tilt is evened.")
    ] = None
    seen_from: Annotated[
        float | None,
        typer.Option(
            help="How they look from so many metres, besides an arm's length and across the room."
        ),
    ] = None
    map_file: Annotated[
        Path | None,
        typer.Option("--map", help="A PNG file to write: where the repair departs, and how far."),
    ] = None

    def check(self) -> None:
        """Refuse what cannot be looked at before anything is measured."""
        if self.card_width is None and (self.card_height, self.seen_from) != (None, None):
            raise ValueRefused(
                "--card-height and --seen-from need the scale: give --card-width beside them."
            )
        if self.map_file is None:
            return
        refuse_ending(self.map_file, "the map", ".png")
        refuse_taken(self.map_file, "the map")

    def at(
        self, comparison: Comparison, original: Photo, repair: Photo
    ) -> tuple[dict[str, Any], list[str], tuple[str, ...]]:
        """What is seen: for JSON, in words, and as findings to keep.

        Of a match the last step is told unasked, where the repair is too even.
        """
        if self == CloserLook() and comparison.verdict != "match":
            return {}, [], ()
        from tonematch.measure.appearance.look import last_step_of, look_at_surfaces, map_of

        told: dict[str, Any] = {}
        words: list[str] = []
        findings: tuple[str, ...] = ()
        if self.evenness or self.card_width is not None:
            size = self.card_width, self.seen_from, self.card_height
            look = look_at_surfaces(comparison, original, repair, *size)
            told, words, findings = in_json(look), [say_look(look)], look.findings
        elif comparison.verdict == "match":
            findings = told["last_step"] = last_step_of(comparison, original, repair)
            words = [*findings]
        if self.map_file is not None:
            write_new(self.map_file, map_of(comparison, repair), "the map")
            told["map"] = str(self.map_file)
            words.append(f"The map is written to {self.map_file}.")
        return told, words, findings
