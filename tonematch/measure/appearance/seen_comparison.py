"""A repair against the original as both look from where the piece will be seen."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Vector3
from tonematch.measure.appearance.area_picture import AreaPicture
from tonematch.measure.appearance.cells import mottle
from tonematch.measure.appearance.evenness import EvennessComparison, EvennessVerdict
from tonematch.measure.appearance.viewing import ACROSS_THE_ROOM, ARM_LENGTH, seen_from
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.colour.difference import USUAL_TOLERANCE, delta_e_2000
from tonematch.swatchbook import limits


@dataclass(frozen=True, eq=False)
class SeenComparison:
    """Two areas as they look from one distance.

    Attributes
    ----------
    lab_original, lab_repair : ndarray, shape (3,)
        CIELAB of the mean light that the eye receives from each.
    delta_e : float
        CIEDE2000 of the two; a `Comparison` has its interval, which distance does not change.
    mottle_original, mottle_repair : float
        Mean CIEDE2000 of each area, as seen, from its mean.
    evenness : {"alike", "too even", "too mottled", "otherwise mottled", "not known"}
        "alike" where the mottling that is seen differs too little to be noticed.
    as_one : bool
        Whether both colour and evenness pass from here.
    """

    metres: float
    lab_original: Vector3
    lab_repair: Vector3
    delta_e: float
    mottle_original: float
    mottle_repair: float
    evenness: EvennessVerdict
    as_one: bool
    words: str


def compare_seen(
    original: AreaPicture,
    repair: AreaPicture,
    evenness: EvennessComparison,
    distances: Sequence[float] = (ARM_LENGTH, ACROSS_THE_ROOM),
    tolerance: float = USUAL_TOLERANCE,
) -> tuple[SeenComparison, ...]:
    """Compare two areas of known scale as they look from each of some distances.

    Parameters
    ----------
    evenness : EvennessComparison
        Of the same two from near: what does not differ there does not differ from afar.
    distances : sequence of float, optional
        Metres, 0.1 to 100; an arm's length and across the room unless given.
    tolerance : float, optional
        Greatest CIEDE2000 of the means that counts as a match.

    Raises
    ------
    ValueRefused
        Where a distance cannot be used.
    """
    return tuple(_seen(original, repair, evenness, metres, tolerance) for metres in distances)


def _seen(
    original: AreaPicture,
    repair: AreaPicture,
    near: EvennessComparison,
    metres: float,
    tolerance: float,
) -> SeenComparison:
    pictures = seen_from(original, metres), seen_from(repair, metres)
    labs = [xyz_to_lab(p.xyz[p.used].mean(axis=0, dtype=np.float64)) for p in pictures]
    delta_e = float(delta_e_2000(labs[0], labs[1]))
    one, other = (mottle(p.lab()[p.used]) for p in pictures)
    seen: EvennessVerdict = near.verdict
    # Mottling of another kind is seen while there is any; of another depth, by the difference.
    left = max(one, other) if near.verdict == "otherwise mottled" else abs(one - other)
    if left < limits("evenness")["seen_mottle"] and near.verdict != "not known":
        seen = "alike"
    return SeenComparison(
        metres=metres,
        lab_original=labs[0],
        lab_repair=labs[1],
        delta_e=delta_e,
        mottle_original=one,
        mottle_repair=other,
        evenness=seen,
        as_one=delta_e <= tolerance and seen == "alike",
        words=_say(metres, delta_e, tolerance, seen),
    )


def _say(metres: float, delta_e: float, tolerance: float, seen: EvennessVerdict) -> str:
    colour = "is one with" if delta_e <= tolerance else "differs from"
    told = {
        "alike": "and is as even",
        "not known": "and its evenness is not known",
        "too even": "and looks too even",
        "too mottled": "and looks too mottled",
        "otherwise mottled": "and looks otherwise mottled",
    }[seen]
    return f"From {metres:g} m the repair {colour} the original in colour {told}."
