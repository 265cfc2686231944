"""What besides the card may help to calibrate a photograph."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from tonematch.measure.calibration.chart import Chart
from tonematch.measure.core import Area, CameraProfile
from tonematch.photo.core import Photo

Encoding = Literal["profile", "linear"]


@dataclass(frozen=True, eq=False)
class Aids:
    """Everything of known value that a picture holds beside its card, or that is known of it.

    Attributes
    ----------
    neutrals : sequence of (Area, float)
        Further neutrals and their reflectances, 0 to 1, from which the tone curve is checked or
        found.
    encoding : {"profile", "linear"}
        "linear" takes the code values as linear light, whatever the file says.
    chart : Chart or None
        A chart in the picture: its greys give the tone curve, its colours the correction.
    profile : CameraProfile or None
        From an earlier picture with this camera: its curve is where neutrals here start from; a
        chart goes before it.
    flat_field : Photo or None
        A picture of a plain sheet in the same light, the camera where it was.
    cards : sequence of Area
        Further cards of the same value elsewhere in the picture; a flat field goes before them.
    """

    neutrals: Sequence[tuple[Area, float]] = ()
    encoding: Encoding = "profile"
    chart: Chart | None = None
    profile: CameraProfile | None = None
    flat_field: Photo | None = None
    cards: Sequence[Area] = ()


CARD_ALONE = Aids()
