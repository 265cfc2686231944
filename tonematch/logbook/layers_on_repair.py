"""What lies on the repair of a piece, as its logbook tells."""

from collections.abc import Iterable, Mapping

from tonematch.errors import ShelfError
from tonematch.logbook.core import Piece
from tonematch.toning.core import Layer, Trial
from tonematch.toning.layers.shelf import find_layer


def layers_on(
    piece: Piece, trials: Iterable[Trial], shelf: Mapping[str, Layer]
) -> tuple[Layer, ...]:
    """The layers on a piece's repair, the lowest first, each once for every coat.

    Parameters
    ----------
    piece : Piece
        With what lay there before its first trial; of that, names that the shelf does not know
        are left out.
    trials : iterable of Trial
        What was laid on it since, in order.
    shelf : mapping from name to Layer

    Returns
    -------
    tuple of Layer
        A layer that was laid and is no longer on the shelf counts by its name and kind.
    """
    laid = [shelf[name] for name in piece.laid_before if name in shelf]
    for trial in trials:
        application = trial.application
        try:
            layer = find_layer(shelf, application.layer)
        except ShelfError:
            layer = Layer(application.layer, application.kind)
        laid += [layer] * application.coats
    return tuple(laid)
