"""What was measured and laid on a piece, arranged for a reader who was not there."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonematch.errors import ShelfError
from tonematch.logbook.core import (
    KeptComparison,
    KeptReading,
    KeptTrial,
    LayerInProgress,
    PieceHistory,
)
from tonematch.measure.colour.convert import lab_to_srgb_hex
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Calibration, Comparison
from tonematch.measure.uncertainty.interval import half_width_95
from tonematch.toning.core import Layer
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.planning.lustre_words import say_trial_lustre


@dataclass(frozen=True)
class Colour:
    """A colour in figures and as a swatch.

    Attributes
    ----------
    figures : str
        L*, a*, b* to one decimal.
    swatch : str
        sRGB as ``#rrggbb``.
    within : str
        Half the 95 % interval of each, where it is known.
    """

    figures: str
    swatch: str
    within: str = ""


@dataclass(frozen=True)
class Measured:
    """A comparison as it stands in the record."""

    made_at: str
    comparison: Comparison
    original: Colour
    repair: Colour
    cards: tuple[str, ...]
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
    layer : Layer or None
        Its entry on the shelf; None where nobody described it.
    surprise : float or None
        CIEDE2000 from what was foretold to what was got.
    lustre : str
        Lustre before and after, where it was measured.
    """

    kept: KeptTrial
    date: str
    layer: Layer | None
    before: Colour
    got: Colour
    foretold: Colour | None
    surprise: float | None
    lustre: str


@dataclass(frozen=True)
class NotRead:
    """A layer that lies there and was not photographed yet."""

    laid: LayerInProgress
    before: Colour
    foretold: Colour


@dataclass(frozen=True)
class Material:
    """What lies on the repair, with its entry on the shelf; None where it has none."""

    name: str
    layer: Layer | None


def measured(kept: KeptComparison) -> Measured:
    """Arrange a comparison."""
    pair = (kept.original, kept.repair)
    found = [r.calibration for r in pair if r.calibration is not None]
    cards = dict.fromkeys(words for calibration in found for words in _words_of(calibration))
    warnings = dict.fromkeys(
        (*kept.comparison.warnings, *(w for r in pair for w in _warnings_of(r)))
    )
    return Measured(
        made_at=kept.made_at,
        comparison=kept.comparison,
        original=_colour(kept.original.reading.lab, kept.original.reading.covariance),
        repair=_colour(kept.repair.reading.lab, kept.repair.reading.covariance),
        cards=tuple(cards),
        evenness=(
            f"Evenness, as the standard deviation of L* and of C*ab: original "
            f"{_spread(kept.original)}, repair {_spread(kept.repair)}."
        ),
        findings=kept.findings,
        warnings=tuple(warnings),
    )


def in_order(trials: Iterable[KeptTrial]) -> list[KeptTrial]:
    """Trials as their layers were laid."""
    return sorted(trials, key=lambda kept: (_day(kept), kept.trial.step, kept.id))


def _day(kept: KeptTrial) -> str:
    return kept.trial.date or kept.made_at[:10]


def laid(kept: KeptTrial, shelf: Mapping[str, Layer]) -> LaidLayer:
    """Arrange a trial, with its layer's entry on the shelf."""
    trial, prediction = kept.trial, kept.prediction
    return LaidLayer(
        kept=kept,
        date=_day(kept),
        layer=_entry(shelf, trial.application.layer),
        before=_colour(
            trial.application.before,
            None if kept.before is None else kept.before.reading.covariance,
        ),
        got=_colour(trial.after, None if kept.after is None else kept.after.reading.covariance),
        foretold=None if prediction is None else _colour(prediction.lab, prediction.covariance),
        surprise=None if prediction is None else float(delta_e_2000(prediction.lab, trial.after)),
        lustre=say_trial_lustre(trial),
    )


def not_read(laid: LayerInProgress) -> NotRead:
    """Arrange a layer in progress."""
    before, foretold = laid.before.repair, laid.prediction
    return NotRead(
        laid,
        _colour(before.lab, before.covariance),
        _colour(foretold.lab, foretold.covariance),
    )


def standing_of(last: KeptComparison | None, laid: LayerInProgress | None) -> tuple[bool, str]:
    """Whether a repair was found to match, and how it stands, in a sentence."""
    if laid is not None:
        return False, f"{laid.application.layer} lies there and is not yet read"
    if last is None:
        return False, "nothing was compared yet"
    found = last.comparison
    words = f"{found.verdict} on {last.made_at[:10]}, CIEDE2000 {found.delta_e:.1f}"
    return found.verdict == "match", f"{words} (tolerance {found.tolerance:g})"


def materials(history: PieceHistory, shelf: Mapping[str, Layer]) -> list[Material]:
    """All that lies on the repair, each once: what lay there before, then what was laid."""
    laid = [kept.trial.application.layer for kept in in_order(history.trials)]
    waiting = [] if history.in_progress is None else [history.in_progress.application.layer]
    names = [*history.piece.laid_before, *laid, *waiting]
    entries = {name: _entry(shelf, name) for name in names}
    # A trial may spell a layer with capitals.
    found = {name if layer is None else layer.name: layer for name, layer in entries.items()}
    return [Material(name, layer) for name, layer in found.items()]


def _entry(shelf: Mapping[str, Layer], name: str) -> Layer | None:
    try:
        return find_layer(shelf, name)
    except ShelfError:
        return None


def _words_of(calibration: Calibration) -> list[str]:
    """The card, and how tone curve, light and colours were found where they were."""
    parts = (calibration.even, calibration.profile)
    card = f"{calibration.card.name}: {calibration.value.words}"
    tone = f"tone curve {calibration.tone.words}"
    return [card, tone, *(part.words for part in parts if part is not None)]


def _spread(kept: KeptReading) -> str:
    return f"{kept.reading.spread_L:.1f} and {kept.reading.spread_C:.1f}"


def _warnings_of(kept: KeptReading) -> tuple[str, ...]:
    shared = () if kept.calibration is None else kept.calibration.warnings
    return (*shared, *kept.reading.warnings)


def _colour(lab: NDArray[np.float64], covariance: NDArray[np.float64] | None) -> Colour:
    within = ""
    if covariance is not None:
        within = ", ".join(f"{half:.1f}" for half in half_width_95(covariance))
    return Colour(
        figures=", ".join(f"{value:.1f}" for value in lab),
        swatch=lab_to_srgb_hex(lab),
        within=within,
    )
