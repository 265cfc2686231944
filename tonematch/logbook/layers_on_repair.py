"""What lies on the repair of a piece, as its logbook tells."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from tonematch.errors import ShelfError
from tonematch.logbook.core import Piece
from tonematch.toning.core import Kind, Layer, Trial
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.planning.ground import Ground, Lying


def ground_of(piece: Piece, trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> Ground:
    """What test strips for a piece stand on, which is what its next layer would.

    What lay there before its first trial, then its trials in order. A layer that is not on the
    shelf counts by its name and kind; where no trial tells its kind, as a wash.
    """
    laid = [Lying(_layer(shelf, name, "wash")) for name in piece.laid_before]
    for one in (trial.application for trial in trials):
        laid.append(Lying(_layer(shelf, one.layer, one.kind), one.strength, one.coats))
    # Strips are gilded anew, and cured before anything is laid on them.
    gilding = replace(piece.surface(), hours_since_gilding=None)
    return Ground(gilding, tuple(laid), piece.bole, piece.leaf)


def layers_on(
    piece: Piece, trials: Iterable[Trial], shelf: Mapping[str, Layer]
) -> tuple[Layer, ...]:
    """The layers on a piece's repair, the lowest first, each once for every coat."""
    return ground_of(piece, trials, shelf).layers


def _layer(shelf: Mapping[str, Layer], name: str, kind: Kind) -> Layer:
    try:
        return find_layer(shelf, name)
    except ShelfError:
        return Layer(name, kind)
