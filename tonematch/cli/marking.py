"""Photographs with the areas and the aids that were typed for them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from tonematch.cli.typed import corners, neutral, one_of
from tonematch.errors import CardError

if TYPE_CHECKING:
    from tonematch.measure.calibration.chart import Chart
    from tonematch.measure.marked import Marked
    from tonematch.photo.core import Photo


@dataclass(frozen=True)
class TypedAids:
    """What besides the card was typed to calibrate a photograph by."""

    neutral: Sequence[str] | None = None
    other_card: Sequence[str] | None = None
    encoding: str = "profile"
    chart: bool = False
    chart_corners: str | None = None
    flat: Path | None = None
    camera_profile: Path | None = None

    def on(self, marked: "Marked") -> "Marked":
        """A marked photograph with these aids."""
        from tonematch.measure.area.areas import box_area, parse_box
        from tonematch.measure.calibration.camera_profile import read_profile
        from tonematch.measure.marked import Aids
        from tonematch.photo.decode import load_photo

        aids = Aids(
            neutrals=tuple(neutral(text) for text in self.neutral or ()),
            encoding=cast(Any, one_of("--encoding", self.encoding, ("profile", "linear"))),
            chart=self._chart_in(marked.photo),
            profile=None if self.camera_profile is None else read_profile(self.camera_profile),
            flat=None if self.flat is None else load_photo(self.flat),
            cards=tuple(
                box_area(f"card {number}", parse_box(box))
                for number, box in enumerate(self.other_card or (), start=2)
            ),
        )
        return replace(marked, aids=aids)

    def _chart_in(self, photo: "Photo") -> "Chart | None":
        from tonematch.measure.calibration.chart import chart_at, find_chart

        if self.chart_corners is not None:
            return chart_at(photo, corners("--chart-corners", self.chart_corners))
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


def with_roles(photo: Path, **boxes: str) -> "Marked":
    """A photograph with one area for each role, each typed as a box."""
    from tonematch.measure.area.areas import box_area, parse_box
    from tonematch.measure.core import Role

    areas = {role: box_area(role, parse_box(box), cast(Role, role)) for role, box in boxes.items()}
    return marked_photo(photo, areas)
