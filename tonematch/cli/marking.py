"""Photographs with the areas, the card's value and the aids that were typed for them."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, cast

import typer

from tonematch.cli import typed
from tonematch.cli.options import ChartCorners, LogbookPath
from tonematch.errors import CardError, ValueRefused

if TYPE_CHECKING:
    from tonematch.measure.area.areas import Box
    from tonematch.measure.calibration.chart import Chart
    from tonematch.measure.core import CameraProfile, CardValue
    from tonematch.measure.marked import Marked
    from tonematch.photo.core import Photo


@dataclass(frozen=True)
class TypedCard:
    """What the grey card is, by one of two ways of saying it."""

    card_reflectance: Annotated[
        float | None,
        typer.Option(help="What the grey card reflects, 0 to 1; as 'tonematch cards' has it."),
    ] = None
    card_lab: Annotated[
        typed.Numbers | None, typed.three_numbers(help="Or its measured colour (D50, 2 degree).")
    ] = None

    def value(self) -> "CardValue":
        """The card's value; that of the workshop's own card where nothing was typed."""
        from tonematch.logbook.own_cards import OWN_CARDS
        from tonematch.measure.calibration.card import card_from_lab, card_from_reflectance

        if self.card_reflectance is not None and self.card_lab is not None:
            raise ValueRefused("The card's value is given twice: leave out one of the two.")
        if self.card_lab is not None:
            return card_from_lab(self.card_lab)
        if self.card_reflectance is not None:
            return card_from_reflectance(self.card_reflectance)
        return OWN_CARDS.value().values["grey"]


@dataclass(frozen=True)
class TypedAids:
    """What besides the card was typed to calibrate a photograph by."""

    white: Annotated[
        typed.Box | None,
        typed.box(help="The white card: with --black it finds the camera's tones."),
    ] = None
    black: Annotated[typed.Box | None, typed.box(help="The black card, likewise.")] = None
    neutral: Annotated[
        list[typed.Neutral] | None,
        typed.neutral(help="A further grey of known value, 0 to 1; repeat."),
    ] = None
    other_card: Annotated[
        list[typed.Box] | None,
        typed.box(
            help="The same card elsewhere in the picture, for uneven light; repeat for more."
        ),
    ] = None
    encoding: Annotated[
        Literal["profile", "linear"],
        typer.Option(
            help="profile: as the file says; linear: its values are linear light, whatever it says."
        ),
    ] = "profile"
    chart: Annotated[bool, typer.Option("--chart", help="Find a 24-patch chart and use it.")] = (
        False
    )
    chart_corners: ChartCorners = None
    flat: Annotated[
        Path | None,
        typer.Option(
            help="A picture of a plain sheet in the same light and place, for uneven light."
        ),
    ] = None
    camera_profile: Annotated[
        Path | None, typer.Option(help="A camera profile saved by 'tonematch profile'.")
    ] = None
    remembered: Annotated[
        str | None, typed.day(help="Use what a picture kept on that day taught of the camera.")
    ] = None
    logbook: LogbookPath = None

    def on(self, marked: "Marked") -> "Marked":
        """A marked photograph with these aids."""
        from tonematch.logbook.own_cards import OWN_CARDS
        from tonematch.measure.area.areas import box_area
        from tonematch.measure.calibration.aids import Aids
        from tonematch.photo.decode import load_photo

        tones = {name: box_area(f"{name} card", box) for name, box in self._tones().items()}
        aids = Aids(
            neutrals=(*OWN_CARDS.value().marked(tones), *(self.neutral or ())),
            encoding=self.encoding,
            chart=self._chart_in(marked.photo),
            profile=self._profile_for(marked.photo),
            flat_field=None if self.flat is None else load_photo(self.flat),
            cards=tuple(
                box_area(f"card {number}", box, "card")
                for number, box in enumerate(self.other_card or (), start=2)
            ),
        )
        return replace(marked, aids=aids)

    def notes(self) -> list[str]:
        """That a white or black card counts by what such cards reflect as a rule."""
        from tonematch.logbook.own_cards import OWN_CARDS
        from tonematch.measure.words import capital, join_words

        cards = OWN_CARDS.value()
        assumed = [name for name in self._tones() if name not in cards.stated]
        if not assumed:
            return []
        taken = [
            f"the {name} card is taken to reflect {cards.reflectance(name):g}" for name in assumed
        ]
        return [
            f"{capital(join_words(taken))}, as such cards do as a rule: say once what yours "
            f"reflect{'s' if len(assumed) == 1 else ''}, see 'tonematch cards --help'."
        ]

    def _tones(self) -> "dict[str, Box]":
        typed_boxes = {"white": self.white, "black": self.black}
        return {name: box for name, box in typed_boxes.items() if box is not None}

    def _profile_for(self, photo: "Photo") -> "CameraProfile | None":
        """The profile that was asked for; where a logbook is named, say what it remembers."""
        from tonematch.measure.calibration.camera_profile import camera_of, read_profile

        if self.camera_profile is not None:
            if self.remembered is not None:
                raise ValueRefused("Give --camera-profile or --remembered, not both.")
            return read_profile(self.camera_profile)
        if self.remembered is None and self.logbook is None:
            return None
        from tonematch.logbook.store import open_logbook

        camera = camera_of(photo)
        with open_logbook(self.logbook) as book:
            known = book.camera_profiles(camera, photo.space)
        if self.remembered in known:
            return known[self.remembered]
        if self.remembered is not None:
            days = (
                f"it knows those of {', '.join(known)}"
                if known
                else "mark white and black cards in this one instead"
            )
            raise ValueRefused(
                f"The logbook knows no picture of {camera or 'this camera'} with neutrals or a "
                f"chart from {self.remembered}: {days}."
            )
        for day, profile in [*known.items()][:1]:
            typer.echo(
                f"{photo.name}: this camera was measured on {day} ({profile.words}); "
                f"--remembered {day} uses what was learned then.",
                err=True,
            )
        return None

    def _chart_in(self, photo: "Photo") -> "Chart | None":
        from tonematch.measure.calibration.chart import chart_at, find_chart

        if self.chart_corners is not None:
            return chart_at(photo, self.chart_corners)
        if not self.chart:
            return None
        found = find_chart(photo)
        if found is None:
            raise CardError(
                f"No 24-patch chart is found in {photo.name}: mark it with --chart-corners, or "
                "photograph it flat, whole and larger."
            )
        return found


def marked_photo(photo: Path, areas: dict[str, Any]) -> "Marked":
    """A photograph with its areas by name."""
    from tonematch.measure.marked import Marked
    from tonematch.photo.decode import load_photo

    return Marked(load_photo(photo), areas)


def with_roles(photo: Path, **boxes: "Box") -> "Marked":
    """A photograph with one area for each role, each a box."""
    from tonematch.measure.area.areas import box_area
    from tonematch.measure.core import Role

    areas = {role: box_area(role, box, cast(Role, role)) for role, box in boxes.items()}
    return marked_photo(photo, areas)
