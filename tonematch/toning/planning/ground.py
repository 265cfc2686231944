"""What test strips stand on: gilding as on the repair, and all that lies on it, in order.

Made once for a piece; the strips are chosen with it, their sheet prescribes it, it is kept with the
sheet, and the photographed sheet is read back with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tonematch.toning.core import Coat, Layer, Surface
from tonematch.toning.layers.mix import USUAL_POT, say_coat
from tonematch.toning.layers.rules import Finding, check_layering
from tonematch.toning.planning.plan_words import say_hours


@dataclass(frozen=True)
class Lying:
    """A layer that lies there; the rest is None where nobody wrote it down.

    `read_before` is CIELAB (D50, 2 degree) of the surface before it was laid.
    """

    layer: Layer
    strength: float | None = None
    coats: int | None = None
    read_before: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Ground:
    """What test strips stand on: the gold, and what lies on it, the lowest first.

    Bole and leaf are in the gilder's words.
    """

    gilding: Surface
    laid: tuple[Lying, ...] = ()
    bole: str = ""
    leaf: str = ""

    @property
    def layers(self) -> tuple[Layer, ...]:
        """What lies on the gold, the lowest first, each once for every coat."""
        return tuple(one.layer for one in self.laid for _ in range(one.coats or 1))

    @property
    def surface(self) -> Surface:
        """As the rules of layering see it, ready for a strip's own layers."""
        read = tuple(one.read_before for one in self.laid for _ in range(one.coats or 1))
        return replace(self.gilding, beneath=self.layers, read_before=read)

    def findings(self, layers: Sequence[Layer]) -> list[Finding]:
        """The rules that a strip touches as it is made, from the bare gold up."""
        return check_layering(self.gilding, [*self.layers, *layers])


def say_no_strip(ground: Ground, piece: str) -> str:
    """Why the rules of layering allow no strip for a piece, and what to do."""
    said = f"The rules of layering allow no strip of these layers on {piece} now"
    for finding in ground.findings(()):
        if finding.severity == "blocked":
            return (
                f"{said}, for what lies there breaks one already, and strips repeat it. "
                f"{finding.sentence}"
            )
    return f"{said}: try others, or put a seal among them."


def say_gold(ground: Ground) -> str:
    """The gold of the strips, as far as it is known: ``water gilding, burnished, bole red``."""
    gilding = ground.gilding
    known = [
        f"{gilding.technique} gilding" if gilding.technique != "unknown" else "",
        gilding.finish if gilding.finish != "unknown" else "",
        f"bole {ground.bole}" if ground.bole else "",
        f"leaf {ground.leaf}" if ground.leaf else "",
    ]
    return ", ".join(filter(None, known))


def say_lying(lying: Lying) -> str:
    """How a layer of the ground goes on every strip, and how long it dries."""
    layer = lying.layer
    if lying.strength is not None:
        coat = Coat(layer, lying.strength, lying.coats or 1)
        laid = f"{say_coat(coat, USUAL_POT)}; as on the repair"
    elif layer.kind == "seal":
        laid = f"one thin coat of {layer.name}, as on the repair"
    else:
        laid = f"{layer.name}, as strong as on the repair"
    dries = f"; let it dry {say_hours(*layer.drying_hours)}" if layer.drying_hours[1] > 0.0 else ""
    return laid + dries
