"""What lies on the repair of a piece, as its logbook tells, and the rules that a trial touches."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from tonematch.errors import ShelfError
from tonematch.logbook.core import KeptTrial, Piece
from tonematch.toning.core import Kind, Layer, Surface, Trial
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.layers.taking_back import lifted
from tonematch.toning.planning.ground import Ground, Lying

if TYPE_CHECKING:
    from tonematch.logbook.store import Logbook


def ground_of(piece: Piece, trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> Ground:
    """What test strips for a piece stand on, which is what its next layer would.

    What lay there before its first trial, then its trials in order, less what was taken back. A
    layer that is not on the shelf counts by its name and kind; where no trial tells its kind, as a
    wash.
    """
    laid = [Lying(_layer(shelf, name, "wash")) for name in piece.laid_before]
    for one in (trial.application for trial in trials):
        layer = _layer(shelf, one.layer, one.kind)
        if layer.kind != "lift":
            L, a, b = map(float, one.before)
            laid.append(Lying(layer, one.strength, one.coats, (L, a, b)))
        elif one.strength >= 1.0:  # a part that is taken off leaves the layer there
            del laid[len(laid) - lifted([lying.layer.name for lying in laid], layer.name) :]
    # Strips are gilded anew, cured before anything is laid on them, and frame no mirror.
    gilding = replace(piece.surface(), hours_since_gilding=None, glass="none")
    return Ground(gilding, tuple(laid), piece.bole, piece.leaf)


def surface_of(piece: Piece, trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> Surface:
    """A piece's repair as it is now, with the layers on it, each once for every coat."""
    ground = ground_of(piece, trials, shelf).surface
    return replace(piece.surface(ground.beneath), read_before=ground.read_before)


def put_trial_right(
    logbook: "Logbook", kept: KeptTrial, trial: Trial, shelf: Mapping[str, Layer], reason: str = ""
) -> None:
    """Correct a trial in its place; for another layer or other coats the rules are held anew.

    Raises LogbookError when nothing of it would change, TrialError when a value cannot be kept.
    """
    cautions = None
    new, old = trial.application, kept.trial.application
    if (new.layer, new.coats) != (old.layer, old.coats):
        cautions = _cautions_of(logbook, kept, trial, shelf)
    logbook.correct_trial(kept.id, trial, cautions=cautions, reason=reason)


def _cautions_of(
    logbook: "Logbook", kept: KeptTrial, trial: Trial, shelf: Mapping[str, Layer]
) -> list[str]:
    """Rules that the layer touches over what lay on the piece before it."""
    layer = shelf.get(trial.application.layer)
    if layer is None:
        return []
    surface = Surface()
    if trial.piece:
        on_it = logbook.kept_trials(trial.piece, zone=trial.zone)
        earlier = [k.trial for k in on_it if k.id < kept.id]
        surface = surface_of(logbook.piece(trial.piece, trial.zone), earlier, shelf)
    a = trial.application
    surface = replace(surface, technique=a.technique, finish=a.finish)
    return [finding.sentence for finding in check_layering(surface, [layer], coats=[a.coats])]


def _layer(shelf: Mapping[str, Layer], name: str, kind: Kind) -> Layer:
    try:
        return find_layer(shelf, name)
    except ShelfError:
        return Layer(name, kind)
