"""What was measured and laid on a piece, arranged for a reader who was not there."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonematch.errors import ShelfError
from tonematch.logbook.core import (
    Air,
    KeptComparison,
    KeptReading,
    KeptTrial,
    LayerInProgress,
    Piece,
    PieceHistory,
)
from tonematch.logbook.layers_on_repair import ground_of
from tonematch.measure.colour.convert import lab_to_srgb_hex
from tonematch.measure.core import Calibration, Comparison
from tonematch.measure.uncertainty.interval import half_width_95
from tonematch.measure.words import capital
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.rules import layer_cautions, surface_cautions
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.planning.lustre_words import say_trial_lustre

VERDICTS = {
    "match": "It matches: the repair lies within what was agreed.",
    "no match": "It does not match yet.",
    "too close to call": "Too close to call: it may match already, or just not.",
}
NOT_KNOWN, STAYS = "not known", "not reversible"


@dataclass(frozen=True)
class Colour:
    """A colour in figures, L*, a*, b* to one decimal, and as a swatch, ``#rrggbb``."""

    figures: str
    swatch: str


@dataclass(frozen=True)
class Measured:
    """A comparison as it stands in the record.

    Attributes
    ----------
    differences : tuple of str
        Repair minus original in L*, a* and b*, each with half its 95 % interval where that is
        known.
    alone : str
        Half the 95 % interval of the original's reading by itself.
    taken_with : tuple of (str, str)
        Of each photograph: the camera, and how it was calibrated.
    """

    made_at: str
    comparison: Comparison
    original: Colour
    repair: Colour
    differences: tuple[str, ...]
    alone: str
    taken_with: tuple[tuple[str, str], ...]
    evenness: str
    findings: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class LaidLayer:
    """A layer that was laid, as it stands in the record.

    Attributes
    ----------
    date : str
        When it was laid or, where nobody said, when it was written down.
    air : str
        Temperature and relative humidity of the workshop then, where they were said.
    lustre : str
        Lustre before and after, where it was measured.
    """

    kept: KeptTrial
    date: str
    air: str
    got: Colour
    lustre: str


@dataclass(frozen=True)
class Material:
    """What was laid on the repair.

    Attributes
    ----------
    lies : bool
        Whether it lies there still; False once all of it was taken back.
    layer : Layer or None
        Its entry on the shelf; None where nobody described it.
    maker : str
        Maker and batch, where somebody said.
    """

    name: str
    layer: Layer | None
    maker: str
    lies: bool = True

    @property
    def comes_off(self) -> str:
        """With what, in the words of its entry."""
        told = "" if self.layer is None else self.layer.reversible
        return NOT_KNOWN if told in ("", "unknown") else told


def measured(kept: KeptComparison) -> Measured:
    """Arrange a comparison."""
    pair, found = (kept.original, kept.repair), kept.comparison
    with_cards = [r.calibration for r in pair if r.calibration is not None]
    return Measured(
        made_at=kept.made_at,
        comparison=found,
        original=_colour(kept.original.reading.lab),
        repair=_colour(kept.repair.reading.lab),
        differences=tuple(_differences(found)),
        alone=", ".join(f"{half:.1f}" for half in half_width_95(kept.original.reading.covariance)),
        taken_with=tuple(dict.fromkeys(map(_taken_with, with_cards))),
        evenness=(
            f"Evenness (standard deviation of L* and of C*ab): original "
            f"{_spread(kept.original)}; repair {_spread(kept.repair)}."
        ),
        findings=kept.findings,
        warnings=tuple(dict.fromkeys((*found.warnings, *(w for r in pair for w in _warned(r))))),
    )


def _differences(found: Comparison) -> Iterable[str]:
    within = [""] * 3
    if found.covariance is not None:
        within = [f" ± {half:.1f}" for half in half_width_95(found.covariance)]
    for axis, value, half in zip("Lab", found.delta_lab, within, strict=True):
        yield f"Δ{axis}* {value:+.1f}{half}"


def in_order(trials: Iterable[KeptTrial]) -> list[KeptTrial]:
    """Trials as their layers were laid."""
    return sorted(trials, key=lambda kept: (_day(kept), kept.trial.step, kept.id))


def _day(kept: KeptTrial) -> str:
    return kept.trial.date or kept.made_at[:10]


def laid(kept: KeptTrial) -> LaidLayer:
    """Arrange a trial."""
    trial = kept.trial
    air = Air(trial.temperature, trial.humidity).words.removesuffix(" relative humidity")
    return LaidLayer(kept, _day(kept), air, _colour(trial.after), say_trial_lustre(trial))


def standing_of(last: KeptComparison | None, laid: LayerInProgress | None) -> tuple[bool, str]:
    """Whether a repair was found to match, and how it stands, in a sentence."""
    if laid is not None:
        return False, f"{laid.application.layer} lies there and is not yet read"
    if last is None:
        return False, "nothing was compared yet"
    found = last.comparison
    words = f"{found.verdict} on {last.made_at[:10]}, CIEDE2000 {found.delta_e:.1f}"
    return found.verdict == "match", f"{words} (tolerance {found.tolerance:g})"


def verdict_in_words(last: KeptComparison | None, laid: LayerInProgress | None) -> str:
    """How a repair stands, for its owner."""
    if last is None or laid is not None:
        return f"{capital(standing_of(last, laid)[1])}."
    return VERDICTS[last.comparison.verdict]


def materials(histories: Iterable[PieceHistory], shelf: Mapping[str, Layer]) -> list[Material]:
    """All that was laid on a piece, each once: what lay there before, then what was laid."""
    found: dict[str, Material] = {}
    for history in histories:
        trials = [kept.trial for kept in in_order(history.trials)]
        laid = [one.application.layer for one in trials if one.application.kind != "lift"]
        lying = [one.layer.name for one in ground_of(history.piece, trials, shelf).laid]
        waiting = history.in_progress
        if waiting is not None and waiting.application.kind != "lift":
            lying.append(waiting.application.layer)
        once = (*history.piece.laid_before, *laid)
        for told, lies in (*((name, False) for name in once), *((name, True) for name in lying)):
            layer = _entry(shelf, told)
            name = told if layer is None else layer.name  # a trial may spell it with capitals
            there = lies or (name in found and found[name].lies)
            found[name] = Material(name, layer, dict(history.piece.makers).get(name, ""), there)
    return list(found.values())


def taken_off_by(lying: Iterable[Material]) -> dict[str, list[str]]:
    """Names of the layers by what takes them off; what stays, or nobody knows, comes last."""
    found: dict[str, list[str]] = {}
    for each in lying:
        found.setdefault(each.comes_off, []).append(each.name)
    last = {way: found.pop(way) for way in (STAYS, NOT_KNOWN) if way in found}
    return found | last


def cautions_of(lying: Iterable[Material]) -> dict[str, list[str]]:
    """What to mind of the layers that lie there, each sentence once, with their names."""
    found: dict[str, list[str]] = {}
    for each in lying:
        for caution in () if each.layer is None else layer_cautions(each.layer):
            found.setdefault(caution, []).append(each.name)
    return found


def lasting_cautions(piece: Piece) -> list[str]:
    """What to mind of its glass and coating whenever it is opened; not what new gold asks for."""
    of_any = surface_cautions(Surface(piece.technique, piece.finish))
    return [caution for caution in surface_cautions(piece.surface()) if caution not in of_any]


def aftercare(lying: Sequence[Material], *, mirror: bool) -> list[str]:
    """What an owner is told of the care of a piece that these layers lie on."""
    told = []
    for care in swatch_table("aftercare.toml")["care"]:
        ways = tuple(care.get("off_with", ()))
        names = [each.name for each in lying if ways and each.comes_off.startswith(ways)]
        if (names or not ways) and (mirror or not care.get("glass")):
            told.append(care["sentence"].format(layers=", ".join(names)))
    return told


def _entry(shelf: Mapping[str, Layer], name: str) -> Layer | None:
    try:
        return find_layer(shelf, name)
    except ShelfError:
        return None


def _taken_with(calibration: Calibration) -> tuple[str, str]:
    """The camera; the card, and how tone curve, light and colours were found where they were."""
    parts = (calibration.even, calibration.profile)
    card = f"{calibration.card.name}: {calibration.value.words}"
    tone = f"tone curve {calibration.tone.words}"
    words = [card, tone, *(part.words for part in parts if part is not None)]
    return calibration.camera, "; ".join(words)


def _spread(kept: KeptReading) -> str:
    return f"{kept.reading.spread_L:.1f}, {kept.reading.spread_C:.1f}"


def _warned(kept: KeptReading) -> tuple[str, ...]:
    shared = () if kept.calibration is None else kept.calibration.warnings
    return (*shared, *kept.reading.warnings)


def _colour(lab: NDArray[np.float64]) -> Colour:
    return Colour(", ".join(f"{value:.1f}" for value in lab), lab_to_srgb_hex(lab))
