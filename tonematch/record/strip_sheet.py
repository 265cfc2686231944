"""A sheet to print: where each test strip goes, what to lay on it, and how to photograph them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tonematch.errors import LogbookError
from tonematch.record.page import page
from tonematch.record.strip_layout import FRAME, LABEL_HEIGHT, PAGE, Box, StripLayout
from tonematch.toning.core import Layer, Strip
from tonematch.toning.layers.rules import layer_cautions
from tonematch.toning.planning.plan_words import say_hours
from tonematch.wholefile import write_whole


@dataclass(frozen=True)
class _Cell:
    """What is printed for one strip."""

    number: int
    strip: Strip
    bare: Box
    toned: Box

    @property
    def amount(self) -> str:
        coats = "" if self.strip.coats == 1 else f", {self.strip.coats} coats"
        return f"strength {self.strip.strength:g}{coats}"

    @property
    def first(self) -> str:
        return ", ".join(f"{seal.name}, strength {seal.strengths[-1]:g}" for seal in self.laid[:-1])

    @property
    def laid(self) -> tuple[Layer, ...]:
        return (*self.strip.first, self.strip.layer)

    @property
    def drying(self) -> str:
        return "; ".join(_say_drying(layer) for layer in self.laid if layer.drying_hours[1] > 0.0)


def write_strip_sheet(
    strips: Sequence[Strip], out: Path, ground: str = "the same ground, bole and leaf"
) -> Path:
    """Write a sheet of test strips as one HTML file that prints on A4.

    Parameters
    ----------
    strips : sequence of Strip
        1 to 20, in the order in which they are numbered.
    out : pathlib.Path
        Of a file that is not there yet.
    ground : str
        On what to make them, in words.

    Returns
    -------
    pathlib.Path
        `out`.

    Raises
    ------
    LogbookError
        When the path is taken or cannot be written.
    ValueRefused
        For no strips or too many.
    """
    page = strip_sheet(strips, ground)
    try:
        if out.exists():
            raise LogbookError(f"{out} exists already: give the sheet another name.")
        write_whole(out, page.encode("utf-8"))
    except OSError as error:
        raise LogbookError(
            f"The sheet cannot be written to {out} ({error.strerror}): give a path in a folder "
            "that exists and can be written."
        ) from error
    return out


def strip_sheet(strips: Sequence[Strip], ground: str = "the same ground, bole and leaf") -> str:
    """The sheet as HTML; see `write_strip_sheet`."""
    layout = StripLayout(len(strips))
    cells = [_Cell(i + 1, strip, *layout.halves(i)) for i, strip in enumerate(strips)]
    return page(
        "strip_sheet.html.jinja",
        cells=cells,
        card=layout.card,
        frame=FRAME,
        page=PAGE,
        label_height=LABEL_HEIGHT,
        ground=ground,
        cautions=_cautions([layer for cell in cells for layer in cell.laid]),
        made_on=datetime.now(UTC).date().isoformat(),
    )


def _cautions(layers: Sequence[Layer]) -> list[tuple[str, str]]:
    """Each caution once, with the layers that it concerns."""
    concerned: dict[str, list[str]] = {}
    for layer in {layer.name: layer for layer in layers}.values():
        for caution in layer_cautions(layer):
            concerned.setdefault(caution, []).append(layer.name)
    return [(", ".join(names), caution) for caution, names in concerned.items()]


def _say_drying(layer: Layer) -> str:
    return f"{layer.name}: {say_hours(*layer.drying_hours)}"
