"""Commands that measure: read, compare, lustre, profile."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

import typer

from tonematch.cli import typed
from tonematch.cli.as_json import in_json
from tonematch.cli.closer import CloserLook
from tonematch.cli.grouped import grouped
from tonematch.cli.marking import TypedAids, TypedCard, by_role
from tonematch.cli.of_piece import OfPiece
from tonematch.cli.options import (
    USUAL_TOLERANCE,
    AsJson,
    CardBox,
    ChartCorners,
    Original,
    PieceTolerance,
    Repair,
    Tolerance,
)
from tonematch.cli.printing import print_json, print_warnings
from tonematch.cli.second_light import SecondLight
from tonematch.errors import AreaError
from tonematch.in_words import say_comparison, say_lustre_comparison, say_reading, say_two_lights
from tonematch.measure.area.areas import shape_area
from tonematch.measure.calibration.camera_profile import profile_file
from tonematch.measure.calibration.chart import find_chart
from tonematch.measure.calibration.exposures import profile_from_exposures
from tonematch.measure.colour.difference import check_tolerance
from tonematch.measure.core import GEOMETRY, ILLUMINANT, OBSERVER, Area, CardValue, Comparison
from tonematch.measure.marked import compare_marked, profile_marked, read_marked
from tonematch.measure.two_lights import compare_under_second_light
from tonematch.measure.uncertainty.remedies import narrowing_of_one
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.wholefile import refuse_taken, write_new


@dataclass(frozen=True)
class SecondPhotograph:
    """What was typed for a photograph of the repair beside that of the original."""

    card2: Annotated[
        typed.Shape | None,
        typed.shape(help="The card in the second photograph; as --card unless given."),
    ] = None
    white2: Annotated[Any, typed.shape(help="The white card in the second photograph.")] = None
    black2: Annotated[Any, typed.shape(help="The black card there.")] = None
    neutral2: Annotated[
        list[typed.Neutral] | None, typed.neutral(help="As --neutral, in the second photograph.")
    ] = None
    other_card2: Annotated[
        list[typed.Shape] | None, typed.shape(help="As --other-card, in the second photograph.")
    ] = None
    chart_corners2: Annotated[
        typed.Corners | None,
        typed.corners(help="In the second photograph; as --chart-corners unless given."),
    ] = None

    def refuse(self) -> None:
        """Refuse all of it where there is no second photograph."""
        if self != SecondPhotograph():
            raise AreaError(
                "--card2, --white2, --black2, --neutral2, --other-card2 and --chart-corners2 need "
                "a second photograph: give it, or leave them out."
            )

    def aids(self, first: TypedAids) -> TypedAids:
        """The aids of the second photograph: some are its own, the rest those of the first."""
        return replace(
            first,
            card=self.card2 or first.card,
            white=self.white2,
            black=self.black2,
            neutral=self.neutral2,
            other_card=self.other_card2,
            chart_corners=self.chart_corners2 or first.chart_corners,
        )


@grouped
def read(
    photo: Annotated[
        Path,
        typer.Argument(
            help="The photograph: JPEG, PNG, TIFF, HEIC, WebP, AVIF, DNG or another raw file."
        ),
    ],
    area: Annotated[
        list[typed.NamedShape], typed.named_shape(help="An area and its name; repeat.")
    ],
    *,
    aids: TypedAids,
    grey: TypedCard,
    as_json: AsJson = False,
) -> None:
    """Read the colour of marked areas."""
    areas: dict[str, Area] = {}
    for name, shape in area:
        if name in ("card", *areas):
            raise AreaError(f"Two areas are called '{name}': give each a name of its own.")
        areas[name] = shape_area(name, shape)
    marked, said = aids.marked(photo, areas)
    readings, found = read_marked(marked, grey.value())
    warnings = [*said, *found]
    if as_json:
        space = {"illuminant": ILLUMINANT, "observer": OBSERVER, "geometry": GEOMETRY}
        print_json({"areas": readings, "warnings": warnings} | space)
        return
    print_warnings(warnings)
    for name, reading in readings.items():
        typer.echo(say_reading(name, reading))
    least_sure = max(readings, key=lambda name: float(readings[name].covariance[0, 0]))
    if narrower := narrowing_of_one(least_sure, readings[least_sure]):
        typer.echo(narrower)
    typer.echo(f"CIELAB for illuminant D50, 2 degree observer; {GEOMETRY}.")


@grouped
def compare(
    photo: Annotated[Path, typer.Argument(help="The photograph, or that of the original.")],
    original: Original,
    repair: Repair,
    photo2: Annotated[Path | None, typer.Argument(help="A photograph of the repair.")] = None,
    *,
    aids: TypedAids,
    grey: TypedCard,
    tolerance: PieceTolerance = None,
    of_piece: OfPiece,
    second_photograph: SecondPhotograph,
    second_light: SecondLight,
    closer: CloserLook,
    as_json: AsJson = False,
) -> None:
    """Compare a repair with the original, in one photograph or two, and under a second light."""
    held_to = of_piece.held_to(tolerance, aids.logbook)
    check_tolerance(held_to)
    closer.check()
    if photo2 is None:
        second_photograph.refuse()
        first, said = aids.marked(photo, by_role(original=original, repair=repair))
        second = first
    else:
        first, said = aids.marked(photo, by_role(original=original))
        second, more = second_photograph.aids(aids).marked(photo2, by_role(repair=repair), "--{}2")
        said += more
    there = second_light.marked(aids, original=original, repair=repair)
    comparison = compare_marked(first, second, grey.value(), held_to)
    warnings, photos = [*said, *comparison.warnings], [first.photo, second.photo]
    told, words = in_json(comparison), [say_comparison(comparison)]
    findings: list[str] = []
    if there is not None:
        under, more = there
        lights = compare_under_second_light(comparison, under, grey.value())
        told["second_light"] = in_json(lights)
        words.append(say_two_lights(lights))
        photos.append(under.photo)
        findings.append(lights.finding)
        warnings += [*more, *(f"Under the second light: {one}" for one in lights.second.warnings)]
    warnings = told["warnings"] = list(dict.fromkeys([*warnings, *_notes(photos)]))
    seen, more_words, found = closer.at(comparison, first.photo, second.photo)
    told |= seen
    words += more_words
    findings += found
    files = [one for one in (photo, photo2, aids.flat, second_light.second_light) if one]
    words += of_piece.keep(comparison, (first, second), files, findings, aids.logbook)
    if as_json:
        print_json(told)
        return
    print_warnings(warnings)
    typer.echo("\n".join([*words, f"Taken as {GEOMETRY}."]))


def _notes(photos: list[Photo]) -> list[str]:
    """What is to be known of each file, with its name where there are several."""
    several = len({photo.sha256 for photo in photos}) > 1
    return [
        f"{photo.name}: {note}" if several else note for photo in photos for note in photo.notes
    ]


@grouped
def lustre(
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="Three or more of one view, the lamp moved between; areas are marked on the first."
        ),
    ],
    original: Original,
    repair: Repair,
    *,
    card: CardBox = None,
    tolerance: Tolerance = USUAL_TOLERANCE,
    grey: TypedCard,
    as_json: AsJson = False,
) -> None:
    """Compare how repair and original gleam as the lamp is moved before a fixed camera."""
    from tonematch.measure.appearance.look import look_at_lustre

    areas = by_role(original=original, repair=repair)
    gap, notes = _gap_in(photos[0], TypedAids(card=card), areas, grey.value(), tolerance)

    # Every photograph is let go before the next one is decoded; the first is decoded twice for it.
    def decoded(path: Path) -> Photo:
        photo = load_photo(path)
        notes.extend(photo.notes)
        return photo

    found = look_at_lustre(gap, map(decoded, photos))
    warnings = list(dict.fromkeys([*notes, *found.body.warnings, *found.warnings]))
    if as_json:
        print_json(replace(found, warnings=tuple(warnings)))
        return
    print_warnings(warnings)
    typer.echo(say_lustre_comparison(found))


@grouped
def profile(
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="A photograph with a grey card and a 24-patch chart, or white and black cards; or "
            "three and more of one still scene at other exposures, white balance locked, with "
            "nothing marked in them."
        ),
    ],
    out: Annotated[Path, typer.Option(help="The JSON file to write.")],
    card: CardBox = None,
    lamp: Annotated[str, typer.Option(help="Which lamp lit it, in your words.")] = "",
    *,
    grey: TypedCard,
    white: Annotated[
        typed.Shape | None,
        typed.shape(help="Instead of a chart the white card, for the tone curve alone."),
    ] = None,
    black: Annotated[typed.Shape | None, typed.shape(help="The black card, likewise.")] = None,
    neutral: Annotated[
        list[Any] | None, typed.neutral(help="A further grey of known value, likewise; repeat.")
    ] = None,
    chart_corners: ChartCorners = None,
) -> None:
    """Save a camera profile, for later pictures of this camera."""
    refuse_taken(out, "the profile")
    greys, said = white or black or neutral, list[str]()
    if len(photos) > 1:
        if greys or card or chart_corners or grey != TypedCard():
            raise AreaError(
                "Exposures teach the tone curve by themselves: leave out what is marked in them, "
                "or give the one photograph that it is marked in."
            )
        saved = profile_from_exposures([load_photo(photo) for photo in photos], lamp)
    else:
        aids = TypedAids(card, white, black, neutral, chart_corners=chart_corners)
        marked, said = aids.marked(photos[0], {}, offers=False)
        if not greys and marked.aids.chart is None:
            aids_there = replace(marked.aids, chart=find_chart(marked.photo))
            marked = replace(marked, aids=aids_there)
        saved = profile_marked(marked, grey.value(), lamp)
    write_new(out, profile_file(saved), "the profile")
    print_warnings(said)
    typer.echo(
        f"The camera profile {out} is written ({saved.words}): give it with --camera-profile, for "
        "later pictures of this camera."
    )


def _gap_in(
    photo: Path, aids: TypedAids, areas: dict[str, Area], value: CardValue, tolerance: float
) -> tuple[Comparison, list[str]]:
    """The comparison of two areas of one photograph, which is let go again, and its notes."""
    marked, said = aids.marked(photo, areas, offers=False)
    return compare_marked(marked, marked, value, tolerance), said
