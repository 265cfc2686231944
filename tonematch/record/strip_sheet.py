"""A sheet to print: where each test strip goes, what to lay on it, and how to photograph them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from tonematch.record.page import page
from tonematch.record.strip_layout import FRAME, LABEL_HEIGHT, PAGE, Rectangle, StripLayout
from tonematch.toning.core import Layer, Strip
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.layers.mix import USUAL_POT, say_coat, say_pot
from tonematch.toning.layers.rules import layer_cautions
from tonematch.toning.planning.ground import Ground, say_gold, say_lying
from tonematch.toning.planning.plan_words import say_hours


@dataclass(frozen=True)
class _Row:
    """What is printed for one strip."""

    number: int
    strip: Strip
    fields: tuple[Rectangle, ...]

    @property
    def label(self) -> Rectangle:
        (x, y, w, _), count = self.fields[0], len(self.fields)
        return x, y - LABEL_HEIGHT, count * w, LABEL_HEIGHT

    @property
    def words(self) -> str:
        return "; then ".join(say_coat(coat, USUAL_POT) for coat in self.strip.steps)

    @property
    def on(self) -> list[str]:
        """On which fields each layer goes: from its own to the last."""
        last = len(self.strip.steps)
        return [str(n) if n == last else f"{n} to {last}" for n in range(1, last + 1)]


def strip_sheet(strips: Sequence[Strip], ground: Ground, piece: str) -> str:
    """A sheet of test strips as one HTML file that prints on A4.

    Parameters
    ----------
    strips : sequence of Strip
        1 to 20, in the order in which they are numbered.
    ground : Ground
        What every strip stands on.
    piece : str
        What it is made for, to be told from other sheets.

    Raises
    ------
    ValueRefused
        For no strips or too many.
    """
    layout = StripLayout.of(strips)
    rows = [_Row(i + 1, strip, layout.fields(i)) for i, strip in enumerate(strips)]
    return page(
        "strip_sheet.html.jinja",
        piece=piece,
        rows=rows,
        stacked=max(layout.layers) > 1,
        sizes=dict.fromkeys(f"{w:.0f} by {h:.0f}" for *_, w, h in layout.strips),
        card=layout.card,
        frame=FRAME,
        page=PAGE,
        gilding=say_gold(ground),
        ground=[say_lying(lying) for lying in ground.laid],
        cautions=_cautions(rows, ground),
        say_coats=say_coats,
        say_pot=say_pot,
        pot=USUAL_POT,
        dries=_say_drying,
        made_on=datetime.now(UTC).date().isoformat(),
    )


def _cautions(rows: Sequence[_Row], ground: Ground) -> list[tuple[str, str]]:
    """What to mind, each sentence once, with its layers or else the strips where it holds."""
    laid = [*ground.layers, *(layer for row in rows for layer in row.strip.layers)]
    of_layers: dict[str, list[str]] = {}
    for layer in {layer.name: layer for layer in laid}.values():
        for caution in layer_cautions(layer):
            of_layers.setdefault(caution, []).append(layer.name)
    of_strips: dict[str, list[str]] = {}
    for row in rows:
        for sentence in dict.fromkeys(f.sentence for f in ground.findings(row.strip.layers)):
            if sentence not in of_layers:
                of_strips.setdefault(sentence, []).append(str(row.number))
    return [
        *((", ".join(names), caution) for caution, names in of_layers.items()),
        *(
            ("Every strip" if len(on) == len(rows) else f"Strip {', '.join(on)}", sentence)
            for sentence, on in of_strips.items()
        ),
    ]


def _say_drying(layer: Layer) -> str:
    return say_hours(*layer.drying_hours) if layer.drying_hours[1] > 0.0 else "at once"
