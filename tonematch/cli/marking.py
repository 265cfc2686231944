"""Photographs with the areas and aids that were typed for them."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from tonematch.cli.typed import neutral, one_of
from tonematch.errors import CardError

if TYPE_CHECKING:
    from tonematch.measure.chart import Chart
    from tonematch.measure.marked import Marked
    from tonematch.photo.core import Photo


def marked_photo(photo: Path, areas: dict[str, Any]) -> "Marked":
    from tonematch.measure.marked import Marked
    from tonematch.photo.decode import load_photo

    return Marked(load_photo(photo), areas)


def with_roles(photo: Path, **boxes: str) -> "Marked":
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.core import Role

    areas = {role: box_area(role, parse_box(box), cast(Role, role)) for role, box in boxes.items()}
    return marked_photo(photo, areas)


def aided(
    marked: "Marked",
    neutrals: list[str] | None,
    other_cards: list[str] | None,
    encoding: str,
    chart: bool,
    flat: Path | None,
    camera_profile: Path | None,
) -> "Marked":
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.camera_profile import read_profile
    from tonematch.measure.marked import Aids
    from tonematch.photo.decode import load_photo

    aids = Aids(
        neutrals=tuple(neutral(text) for text in neutrals or ()),
        encoding=cast(Any, one_of("--encoding", encoding, ("profile", "linear"))),
        chart=_chart_in(marked.photo) if chart else None,
        profile=None if camera_profile is None else read_profile(camera_profile),
        flat=None if flat is None else load_photo(flat),
        cards=tuple(
            box_area(f"card {number}", parse_box(box))
            for number, box in enumerate(other_cards or (), start=2)
        ),
    )
    return replace(marked, aids=aids)


def _chart_in(photo: "Photo") -> "Chart":
    from tonematch.measure.chart import find_chart

    found = find_chart(photo)
    if found is None:
        raise CardError(
            f"No 24-patch chart is found in {photo.name}: photograph it flat, whole and larger."
        )
    return found
