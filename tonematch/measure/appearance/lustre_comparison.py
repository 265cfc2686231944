"""The lustre of a repair against the original's, and whether their colours part with the lamp."""

import math
from dataclasses import dataclass
from typing import Literal

from tonematch.measure.appearance.lustre import Lustre
from tonematch.measure.comparison import compare
from tonematch.measure.core import REACH_95, Comparison
from tonematch.swatchbook import limits

LustreVerdict = Literal["too shiny", "too dull", "alike", "too close to call", "not known"]


@dataclass(frozen=True, eq=False)
class LustreComparison:
    """How a repair gleams beside the original.

    Attributes
    ----------
    verdict : {"too shiny", "too dull", "alike", "too close to call", "not known"}
        "not known" where fewer than three pictures were taken.
    stops : float
        Rise of the repair minus that of the original, in stops.
    interval : tuple of two float
        95 % interval of `stops`; nan where the verdict is "not known".
    share : float
        Share of lights above half of the peak, repair minus original: below 0 the repair's
        gleam is the narrower.
    words : str
        For the gilder: lustre, and what to do about it.
    body : Comparison
        Of the body colours: off the mirror direction.
    by_light : tuple of Comparison or None
        Of both areas in each picture by itself; None where one cannot be read.
    parts : bool
        Whether the colours match in one light and part in another.
    parting_words : str
        Says so; empty where they do not.
    mirror_words : str
        Which pictures look into the mirror direction, and whether the first, that was compared,
        is one; empty where the verdict is "not known".
    """

    verdict: LustreVerdict
    stops: float
    interval: tuple[float, float]
    share: float
    share_interval: tuple[float, float]
    words: str
    body: Comparison
    by_light: tuple[Comparison | None, ...]
    parts: bool
    parting_words: str
    mirror_words: str
    warnings: tuple[str, ...] = ()


def compare_lustre(original: Lustre, repair: Lustre, tolerance: float) -> LustreComparison:
    """Compare the lustre of two areas of the same pictures, so that every lamp stood alike.

    They are "alike" where the 95 % interval of the difference lies within ``alike_stops`` of
    ``swatches/limits.toml``, "too shiny" or "too dull" where it lies all beyond on one side, else
    "too close to call". A peak that is clipped is a lower bound: it may prove that the repair is
    too shiny, never that it is alike. `tolerance` is the greatest CIEDE2000 that matches.
    """
    by_light = tuple(
        compare(one, other, tolerance) if one is not None and other is not None else None
        for one, other in zip(original.by_light, repair.by_light, strict=True)
    )
    stops, share = repair.rise - original.rise, repair.share - original.share
    interval = _interval(stops, original.rise_deviation, repair.rise_deviation)
    share_interval = _interval(share, original.share_deviation, repair.share_deviation)
    verdict = _judge(original, repair, interval)
    parting_words = _parting([c for c in by_light if c is not None], tolerance)
    return LustreComparison(
        verdict=verdict,
        stops=stops,
        interval=interval,
        share=share,
        share_interval=share_interval,
        words=_say(verdict, stops, share_interval),
        body=compare(original.body, repair.body, tolerance),
        by_light=by_light,
        parts=bool(parting_words),
        parting_words=parting_words,
        mirror_words=_say_mirror(original, repair),
        warnings=tuple(dict.fromkeys(original.warnings + repair.warnings)),
    )


def _interval(value: float, one: float, other: float) -> tuple[float, float]:
    reach = REACH_95 * math.hypot(one, other)
    return value - reach, value + reach


def _judge(original: Lustre, repair: Lustre, interval: tuple[float, float]) -> LustreVerdict:
    low, high = interval
    if math.isnan(low):
        return "not known"
    limit = limits("lustre")
    alike, clipped = limit["alike_stops"], limit["clipped_warned"]
    if low > alike and original.clipped <= clipped:
        return "too shiny"
    if high < -alike and repair.clipped <= clipped:
        return "too dull"
    known = max(original.clipped, repair.clipped) <= clipped
    return "alike" if known and -alike <= low and high <= alike else "too close to call"


def _say(verdict: LustreVerdict, stops: float, share_interval: tuple[float, float]) -> str:
    times = 2.0 ** abs(stops)
    narrow = ""
    if share_interval[1] < 0:
        narrow = " Its gleam is narrower: more like a mirror."
    elif share_interval[0] > 0:
        narrow = " Its gleam is broader: more like satin."
    match verdict:
        case "too shiny":
            return (
                f"The repair is too shiny: its gleam rises {times:.1f} times as far above its "
                f"body as the original's.{narrow} Dull it before judging the colour again."
            )
        case "too dull":
            return (
                f"The repair is too dull: the original's gleam rises {times:.1f} times as far "
                f"above its body.{narrow} Dust and wax only dull further: look to the burnish "
                "or the last seal."
            )
        case "alike":
            return f"The repair shines like the original.{narrow}"
        case "too close to call":
            return (
                f"The lustre is too close to call.{narrow} Mark larger areas, take care that "
                "the gleam is not clipped, and take more pictures with the lamp moved."
            )
    towards = "more" if stops > 0 else "less"
    seen = (
        f"In this light the repair glitters {towards} than the original, but"
        if abs(stops) > limits("lustre")["alike_stops"]
        else "In this light both glitter alike, but"
    )
    return (
        f"{seen} too few pictures cannot tell lustre: keep the camera fixed, and take three or "
        "more with the lamp moved."
    )


def _say_mirror(original: Lustre, repair: Lustre) -> str:
    least = limits("lustre")["mirror_stops"]
    above = zip(original.above_body, repair.above_body, strict=True)
    pictures = [number for number, stops in enumerate(above, start=1) if max(stops) >= least]
    if not original.above_body:
        return ""
    if not pictures:
        return "No picture looks into the mirror: the compared colours are body colours."
    looks = f"looks into the mirror (of these pictures: {', '.join(map(str, pictures))})"
    if pictures[0] == 1:
        return f"The compared picture {looks}, where gold is brighter: plan from the body colours."
    return f"Another {looks}, the compared one beside it: its colours are body colours."


def _parting(compared: list[Comparison], tolerance: float) -> str:
    """A sentence where the colours match in one light and part in another; else empty.

    They part where the one difference is within the tolerance, the other beyond and greater by
    half a tolerance (this project's choice: less is no other look), and the lower limit of how
    much it is greater lies above 0 (Zou, G. Y. and Donner, A. (2008). Construction of confidence
    limits about effect measures: a general approach. Statistics in Medicine 27(10), 1693-1702).
    """
    if len(compared) < 2:
        return ""
    best = min(compared, key=lambda c: c.delta_e)
    worst = max(compared, key=lambda c: c.interval[0])
    unsure = math.hypot(worst.delta_e - worst.interval[0], best.interval[1] - best.delta_e)
    greater = worst.delta_e - best.delta_e
    if not best.delta_e <= tolerance < worst.delta_e or greater <= max(unsure, tolerance / 2.0):
        return ""
    lighter = _mean_lightness(worst) > _mean_lightness(best)
    where = "nearer the mirror direction" if lighter else "further from the mirror direction"
    return (
        f"The colours part with the lamp: near enough in one picture and not in another, {where}. "
        f"There: {worst.words}"
    )


def _mean_lightness(comparison: Comparison) -> float:
    return float(comparison.original.lab[0] + comparison.repair.lab[0]) / 2.0
