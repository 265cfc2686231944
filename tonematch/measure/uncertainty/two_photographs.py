"""Original and repair in two photographs: what their readings do not share.

The card brings both to one white, but where the camera balanced white otherwise, or the lamp was
another, its matrix mixes the channels in other shares, and its colour error is no longer one and
the same. How far the card's own colour moved between the two photographs tells how far to trust
that it is.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from tonematch.measure.core import Reading
from tonematch.measure.uncertainty.budget import Cause, causes, shared_as

# Part of a tone curve's error that is a photograph's own. A phone renders every picture for itself:
# on 16 pictures by one, the exponent between two greys moved by 0.03 within a scene and by 0.2 from
# scene to scene, where 0.3 is the prior's: two photographs for one comparison are of one scene.
OWN_TONE = 0.15
# Part of the camera's error that is a photograph's own, per change of the card's colour (natural
# logarithm of red or blue over green). Found on the simulated camera, where white was balanced by
# up to 8 % otherwise in the second photograph.
OWN_PER_CHANGE = 0.9


def budgets_of(
    original: Reading, repair: Reading, same_calibration: bool | None = None
) -> list[tuple[Cause, ...]]:
    """Budgets of two readings, which share one calibration or not: as they say unless told.

    Otherwise card and light are each photograph's own; of the tone curve's error a part is, and of
    the camera's as far as the card changed its colour.
    """
    if same_calibration is None:
        same_calibration = original.photo_sha256 == repair.photo_sha256
    if same_calibration:
        return [causes(original), causes(repair)]
    own = own_shares(original, repair)
    second = shared_as(causes(repair), {"card": "its own card", "light": "its own light"})
    return [tuple(partly_own(budget, own)) for budget in (causes(original), second)]


def own_shares(original: Reading, repair: Reading) -> dict[str, float]:
    """By cause, the part of the error that is each photograph's own, 0 to 1."""
    if original.photo_sha256 == repair.photo_sha256:
        return {}
    if original.calibration is None or repair.calibration is None:
        return {}  # nothing says how either was taken
    camera = min(OWN_PER_CHANGE * change_of_card(original, repair), 1.0)
    return {"camera": camera, "tone": OWN_TONE}


def partly_own(budget: Iterable[Cause], share: Mapping[str, float]) -> Iterator[Cause]:
    """A budget of which some causes are shared with no other reading by a part, 0 to 1 each."""
    for cause in budget:
        own = share.get(cause.name, 0.0)
        if own == 0.0:
            yield cause
            continue
        yield replace(cause, root=np.sqrt(1.0 - own**2) * cause.root)
        yield replace(cause, root=own * cause.root, shared="", grows="")


def change_of_card(original: Reading, repair: Reading) -> float:
    """How far the card's colour moved from one photograph to the other.

    The greater change of the natural logarithm of red over green and of blue over green; 0 where a
    reading's calibration is not known or a chart or profile corrected the colours.
    """
    found = [reading.calibration for reading in (original, repair)]
    gains = [np.log(known.gains) for known in found if known is not None and not known.corrected]
    if len(gains) < len(found):
        return 0.0
    change = gains[1] - gains[0]
    return float(np.abs(change[[0, 2]] - change[1]).max())
