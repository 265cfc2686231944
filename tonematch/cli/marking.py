"""Photographs with the areas, the card's value and the aids that were typed for them."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, cast

import typer

from tonematch.cli import typed
from tonematch.cli.options import CardBox, ChartCorners, LogbookPath, open_logbook
from tonematch.errors import CardError, LogbookError, ValueRefused
from tonematch.logbook.own_cards import OWN_CARDS
from tonematch.logbook.photo_folder import is_address, usual_logbook
from tonematch.measure.area.areas import Shape, shape_area
from tonematch.measure.area.card_place import the_cards
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.camera_profile import camera_of, read_profile
from tonematch.measure.calibration.card import card_from_lab, card_from_reflectance
from tonematch.measure.calibration.chart import CHART_BUYS, Chart, chart_at, find_chart
from tonematch.measure.core import Area, CameraProfile, CardValue, Role
from tonematch.measure.marked import Marked
from tonematch.measure.words import join_words
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo

_TONES = ("white", "black")


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

    def value(self) -> CardValue:
        """The card's value; that of the workshop's own card where nothing was typed."""
        if self.card_reflectance is not None and self.card_lab is not None:
            raise ValueRefused("The card's value is given twice: leave out one of the two.")
        if self.card_lab is not None:
            return card_from_lab(self.card_lab)
        if self.card_reflectance is not None:
            return card_from_reflectance(self.card_reflectance)
        return OWN_CARDS.value().values["grey"]


@dataclass(frozen=True)
class TypedAids:
    """What was typed to calibrate a photograph by: the grey card and what is beside it."""

    card: CardBox = None
    white: Annotated[
        typed.Shape | None,
        typed.shape(help="The white card: with --black it finds the camera's tones."),
    ] = None
    black: Annotated[typed.Shape | None, typed.shape(help="The black card, likewise.")] = None
    neutral: Annotated[
        list[typed.Neutral] | None,
        typed.neutral(help="A further grey of known value, 0 to 1; repeat."),
    ] = None
    other_card: Annotated[
        list[typed.Shape] | None,
        typed.shape(
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
        str | None,
        typed.day(
            help="Use what a picture kept on that day taught of the camera: a reading says where "
            "the logbook knows one."
        ),
    ] = None
    logbook: LogbookPath = None

    def marked(
        self,
        photo: Path,
        areas: Mapping[str, Area],
        option: str = "--{}",
        offers: bool = True,
    ) -> tuple[Marked, list[str]]:
        """A photograph with its areas and these aids, and what is to be said of its cards.

        Where no card is typed it is looked for, and where no neutral is typed either, white and
        black cards beside it. `option` is how they are typed for this photograph, with a place for
        the name. A chart that is seen and a camera that is remembered are offered where the command
        has the options for them (`offers`).
        """
        decoded = load_photo(photo)
        cards, said = self._cards_in(decoded, option)
        tones = {name: shape_area(f"{name} card", cards[name]) for name in _TONES if name in cards}
        aids = Aids(
            neutrals=(*OWN_CARDS.value().marked(tones), *(self.neutral or ())),
            encoding=self.encoding,
            chart=self._chart_in(decoded),
            profile=self._profile_for(decoded),
            flat_field=None if self.flat is None else load_photo(self.flat),
            cards=tuple(
                shape_area(f"card {number}", shape, "card")
                for number, shape in enumerate(self.other_card or (), start=2)
            ),
        )
        if offers:
            said += self._offered(decoded, aids)
        every = {"card": shape_area("card", cards["card"], "card"), **areas}
        return Marked(decoded, every, aids), [*said, *_assumed(tones)]

    def _cards_in(self, photo: Photo, option: str) -> tuple[dict[str, Shape], list[str]]:
        """Grey, white and black card, and what is to be said where they were not typed."""
        typed_cards = {"card": self.card, "white": self.white, "black": self.black}
        cards = {name: shape for name, shape in typed_cards.items() if shape is not None}
        if self.card is not None:
            return cards, []
        seen = {"card" if name == "grey" else name: box for name, box in the_cards(photo).items()}
        looked_for = ("card",) if self.neutral else ("card", *_TONES)
        found = {
            name: box for name, box in seen.items() if name in looked_for and name not in cards
        }
        names = join_words(["grey" if name == "card" else name for name in found])
        typing = " ".join(
            f"{option.format(name)} {','.join(f'{side:g}' for side in box)}"
            for name, box in found.items()
        )
        many = len(found) > 1
        said = [
            f"The {names} card{'s were' if many else ' was'} found in {photo.name} ({typing}): "
            f"mark {'them' if many else 'it'} where something else is meant."
        ]
        return found | cards, said

    def _profile_for(self, photo: Photo) -> CameraProfile | None:
        """The profile that was asked for."""
        if self.camera_profile is not None:
            if self.remembered is not None:
                raise ValueRefused("Give --camera-profile or --remembered, not both.")
            return read_profile(self.camera_profile)
        if self.remembered is None:
            return None
        known = self._remembered_of(photo)
        if self.remembered not in known:
            days = (
                f"it knows those of {', '.join(known)}"
                if known
                else "mark white and black cards in this one instead"
            )
            raise ValueRefused(
                f"The logbook knows no picture of {camera_of(photo) or 'this camera'} with "
                f"neutrals or a chart from {self.remembered}: {days}."
            )
        return known[self.remembered]

    def _remembered_of(self, photo: Photo) -> dict[str, CameraProfile]:
        """What the logbook remembers of the camera, by day; no logbook is made for that."""
        where, camera = self.logbook or usual_logbook(), camera_of(photo)
        if not camera or not (is_address(where) or os.access(where, os.R_OK)):
            return {}

        with open_logbook(where) as book:
            return book.camera_profiles(camera, photo.space)

    def _offered(self, photo: Photo, aids: Aids) -> list[str]:
        """What the picture or the logbook holds that would make the reading surer."""
        if aids.chart is not None:
            return []
        said = []
        if find_chart(photo, at_a_glance=True):
            said.append(f"A 24-patch chart is in {photo.name}, too: --chart uses it. {CHART_BUYS}")
        if aids.profile is None:
            try:
                known = self._remembered_of(photo)
            except LogbookError as error:  # nothing that was asked for needs it
                return [*said, f"Whether this camera was measured before is not known: {error}"]
            said += [
                f"{photo.name}: {camera_of(photo)} was measured on {day} ({profile.words}); "
                f"--remembered {day} uses what was learned then."
                for day, profile in [*known.items()][:1]
            ]
        return said

    def _chart_in(self, photo: Photo) -> Chart | None:

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


def by_role(**shapes: Shape) -> dict[str, Area]:
    """Areas by their roles."""
    return {role: shape_area(role, shape, cast(Role, role)) for role, shape in shapes.items()}


def _assumed(tones: Mapping[str, Area]) -> list[str]:
    """That a white or black card counts by what such cards reflect as a rule."""
    cards = OWN_CARDS.value()
    assumed = [
        f"{name} reflects {cards.reflectance(name):g}" for name in tones if name not in cards.stated
    ]
    if not assumed:
        return []
    return [
        f"Assumed of your cards: {', '.join(assumed)}; 'tonematch cards' keeps what is printed on "
        "them."
    ]
