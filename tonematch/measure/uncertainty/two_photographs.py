"""Original and repair in two photographs: what their readings do not share.

The card brings both to one white, but where the camera balanced white otherwise, or the lamp was
another, its matrix mixes the channels in other shares, and its colour error is no longer one and
the same. How far the card's own colour moved between the two photographs tells how far to trust
that it is.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from tonematch.measure.core import Reading
from tonematch.measure.uncertainty.budget import Cause, causes, shared_as

# Part of the camera's error that is a photograph's own, per change of the card's colour (natural
# logarithm of red or blue over green). Found on the simulated camera, where white was balanced by
# up to 8 % otherwise in the second photograph.
OWN_PER_CHANGE = 0.9


def causes_of(original: Reading, repair: Reading, together: bool) -> list[tuple[Cause, ...]]:
    """Budgets of two readings.

    Parameters
    ----------
    together : bool
        Whether they share one calibration; otherwise card and light are each photograph's own,
        and of the camera's error a part is, as far as the card changed its colour.

    Returns
    -------
    list of two tuples of Cause
    """
    if together:
        return [causes(original), causes(repair)]
    own = own_share(original, repair)
    second = shared_as(causes(repair), {"card": "its own card", "light": "its own light"})
    return [tuple(camera_apart(budget, own)) for budget in (causes(original), second)]


def own_share(original: Reading, repair: Reading) -> float:
    """Part of the camera's error that is each photograph's own, 0 to 1; 0 in one photograph."""
    if original.photo_sha256 == repair.photo_sha256:
        return 0.0
    return min(OWN_PER_CHANGE * change_of_card(original, repair), 1.0)


def camera_apart(budget: Iterable[Cause], own: float) -> Iterator[Cause]:
    """A budget of which a part of the camera's error is shared with no other reading."""
    for cause in budget:
        if cause.name != "camera" or own == 0.0:
            yield cause
            continue
        yield replace(cause, root=np.sqrt(1.0 - own**2) * cause.root)
        yield replace(cause, root=own * cause.root, shared="", grows=False)


def change_of_card(original: Reading, repair: Reading) -> float:
    """How far the card's colour moved from one photograph to the other.

    Returns
    -------
    float
        The greater change of the natural logarithm of red over green and of blue over green; 0
        where a reading's calibration is not known or a chart or profile corrected the colours.
    """
    found = [reading.calibration for reading in (original, repair)]
    gains = [np.log(known.gains) for known in found if known is not None and known.profile is None]
    if len(gains) < len(found):
        return 0.0
    change = gains[1] - gains[0]
    return float(np.abs(change[[0, 2]] - change[1]).max())
