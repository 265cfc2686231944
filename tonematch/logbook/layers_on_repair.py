"""What lies on the repair of a piece, as its logbook tells."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from tonematch.errors import ShelfError
from tonematch.logbook.core import Piece
from tonematch.toning.core import Kind, Layer, Surface, Trial
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.layers.taking_back import lifted
from tonematch.toning.planning.ground import Ground, Lying


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
    # Strips are gilded anew, and cured before anything is laid on them.
    gilding = replace(piece.surface(), hours_since_gilding=None)
    return Ground(gilding, tuple(laid), piece.bole, piece.leaf)


def surface_of(piece: Piece, trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> Surface:
    """A piece's repair as it is now, with the layers on it, each once for every coat."""
    ground = ground_of(piece, trials, shelf).surface
    return replace(piece.surface(ground.beneath), read_before=ground.read_before)


def _layer(shelf: Mapping[str, Layer], name: str, kind: Kind) -> Layer:
    try:
        return find_layer(shelf, name)
    except ShelfError:
        return Layer(name, kind)
