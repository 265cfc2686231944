"""Commands that measure: read, compare, profile."""

from pathlib import Path
from typing import Annotated

import typer

from tonematch.cli.marking import aided, marked_photo, with_roles
from tonematch.cli.options import (
    BOX,
    AsJson,
    CardBox,
    CardLab,
    EncodingName,
    FindChart,
    Flat,
    Neutral,
    OtherCard,
    Reflectance,
    SavedProfile,
    Tolerance,
)
from tonematch.cli.printing import print_json, print_warnings
from tonematch.cli.typed import card_value, named_box
from tonematch.errors import AreaError


def read(
    photo: Annotated[Path, typer.Argument(help="The photograph.")],
    card: CardBox,
    area: Annotated[list[str], typer.Option(help=f"NAME={BOX}; repeat for more areas.")],
    card_reflectance: Reflectance = None,
    card_lab: CardLab = None,
    neutral: Neutral = None,
    other_card: OtherCard = None,
    encoding: EncodingName = "profile",
    chart: FindChart = False,
    flat: Flat = None,
    camera_profile: SavedProfile = None,
    as_json: AsJson = False,
) -> None:
    """Read the colour of marked areas."""
    from tonematch.forms import readings_json, say_reading
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.marked import read_marked

    areas = {"card": box_area("card", parse_box(card), "card")}
    for text in area:
        name, box = named_box(text)
        if name in areas:
            raise AreaError(f"Two areas are called '{name}': give each a name of its own.")
        areas[name] = box_area(name, box)
    marked = aided(
        marked_photo(photo, areas), neutral, other_card, encoding, chart, flat, camera_profile
    )
    readings, warnings = read_marked(marked, card_value(card_reflectance, card_lab))
    if as_json:
        print_json(readings_json(readings, warnings))
        return
    for name, reading in readings.items():
        typer.echo(say_reading(name, reading))
    typer.echo("CIELAB for illuminant D50, 2 degree observer.")
    print_warnings(warnings)


def compare(
    photo: Annotated[Path, typer.Argument(help="The photograph, or that of the original.")],
    card: CardBox,
    original: Annotated[str, typer.Option(help=f"The old gold: {BOX}.")],
    repair: Annotated[str, typer.Option(help=f"The new gold: {BOX}.")],
    photo2: Annotated[Path | None, typer.Argument(help="A photograph of the repair.")] = None,
    card2: Annotated[
        str | None, typer.Option(help="The card in the second photograph; as --card unless given.")
    ] = None,
    tolerance: Tolerance = 2.0,
    card_reflectance: Reflectance = None,
    card_lab: CardLab = None,
    neutral: Neutral = None,
    neutral2: Neutral = None,
    other_card: OtherCard = None,
    other_card2: OtherCard = None,
    encoding: EncodingName = "profile",
    chart: FindChart = False,
    flat: Flat = None,
    camera_profile: SavedProfile = None,
    as_json: AsJson = False,
) -> None:
    """Compare a repair with the original, in one photograph or two."""
    from tonematch.forms import comparison_json, say_comparison
    from tonematch.measure.difference import check_tolerance
    from tonematch.measure.marked import compare_marked

    check_tolerance(tolerance)
    if photo2 is None and (card2 is not None or neutral2 or other_card2):
        raise AreaError(
            "--card2, --neutral2 and --other-card2 need a second photograph: give it, or leave "
            "them out."
        )
    if photo2 is None:
        first = second = aided(
            with_roles(photo, card=card, original=original, repair=repair),
            neutral, other_card, encoding, chart, flat, camera_profile,
        )  # fmt: skip
    else:
        first = aided(
            with_roles(photo, card=card, original=original),
            neutral, other_card, encoding, chart, flat, camera_profile,
        )  # fmt: skip
        second = aided(
            with_roles(photo2, card=card2 or card, repair=repair),
            neutral2, other_card2, encoding, chart, flat, camera_profile,
        )  # fmt: skip
    comparison = compare_marked(first, second, card_value(card_reflectance, card_lab), tolerance)
    warnings = list(dict.fromkeys([*first.photo.notes, *second.photo.notes, *comparison.warnings]))
    if as_json:
        print_json(comparison_json(comparison, warnings))
        return
    typer.echo(say_comparison(comparison))
    print_warnings(warnings)


def profile(
    photo: Annotated[Path, typer.Argument(help="A photograph with a 24-patch chart.")],
    card: CardBox,
    out: Annotated[Path, typer.Option(help="The JSON file to write.")],
    lamp: Annotated[str, typer.Option(help="Which lamp lit it, in your words.")] = "",
    card_reflectance: Reflectance = None,
    card_lab: CardLab = None,
) -> None:
    """Save a camera profile from a chart, for pictures of this camera under this lamp."""
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.camera_profile import write_profile
    from tonematch.measure.marked import profile_marked

    areas = {"card": box_area("card", parse_box(card), "card")}
    marked = aided(marked_photo(photo, areas), None, None, "profile", True, None, None)
    saved = profile_marked(marked, card_value(card_reflectance, card_lab), lamp)
    typer.echo(f"{saved.words}; written to {write_profile(saved, out)}.")
