"""The way of a repair to the old gold, drawn: lightness and hue of one photograph after another.

Black, white and grey, as the ruler of a verdict.
"""

from collections.abc import Sequence
from html import escape
from itertools import pairwise

from tonematch.measure.uncertainty.course import Stand
from tonematch.screens.showing.plain import data_url

LEGEND = (
    "Dots: the repair as it was photographed, 1, 2, 3. Bars: where it may lie, 19 times of 20. "
    "Line: the old gold. Both to one scale."
)
_HALF, _TITLE, _FOOT = 60.0, 30.0, 26.0  # pixels: half a drawing's height, what stands over, under
_LEFT, _RIGHT = 24.0, 94.0  # % of the width: the first and the last photograph
_MOST_NUMBERS = 12
# What is drawn above and below the old gold.
_ENDS = {"Lightness": ("lighter", "darker"), "Hue": ("cooler", "warmer")}


def course_html(stands: Sequence[Stand]) -> str:
    """Both courses as one picture with a text alternative; the first photograph at the left."""
    lightness = [(s.lightness, s.lightness_within) for s in stands]
    courses = {"Lightness": lightness, "Hue": [(s.hue, s.hue_within) for s in stands]}
    high = _TITLE + 2 * _HALF + _FOOT
    most = max(abs(value) + within for each in courses.values() for value, within in each)
    parts = [
        _drawn(name, course, high * row, (_HALF - 10.0) / most)
        for row, (name, course) in enumerate(courses.items())
    ]
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" font-family="Arial, sans-serif" font-size="16" '
        f'fill="#111" stroke-width="3">{"".join(parts)}</svg>'
    )
    told = " ".join(_told(name, course, 100.0 / most) for name, course in courses.items())
    picture = data_url(svg.encode(), "svg+xml")
    return (
        f'<div class="tm-ruler"><img alt="{escape(told)}" style="height:{2 * high:.0f}px" '
        f'src="{picture}"><p class="tm-note">{LEGEND}</p></div>'
    )


def _drawn(name: str, course: Sequence[tuple[float, float]], top: float, scale: float) -> str:
    """One course; sizes across in %, all others in pixels."""
    middle = top + _TITLE + _HALF
    step = (_RIGHT - _LEFT) / max(1, len(course) - 1)
    dots = [
        (_LEFT + step * place, middle - scale * value, scale * within)
        for place, (value, within) in enumerate(course)
    ]
    above, below = _ENDS[name]
    words = ((middle - _HALF + 14, above), (middle + 6, "old gold"), (middle + _HALF - 4, below))
    parts = [f'<text x="0" y="{top + 18}" font-weight="bold">{name}</text>']
    parts += [f'<text x="0" y="{y}">{word}</text>' for y, word in words]
    parts.append(_line(_LEFT - 4, middle, 100.0, middle, "#777"))
    parts += [_line(a[0], a[1], b[0], b[1], "#777", "3 5") for a, b in pairwise(dots)]
    every = -(-len(dots) // _MOST_NUMBERS)
    for number, (x, y, half) in enumerate(dots, start=1):
        parts.append(_line(x, y - half, x, y + half, "#111"))
        parts.append(f'<circle cx="{x:.2f}%" cy="{y:.1f}" r="7" fill="#fff" stroke="#111"/>')
        if number % every == 0 or every == 1:
            foot = middle + _HALF + 18
            parts.append(f'<text x="{x:.2f}%" y="{foot}" text-anchor="middle">{number}</text>')
    return "".join(parts)


def _line(x1: float, y1: float, x2: float, y2: float, stroke: str, dash: str = "") -> str:
    return f'<line x1="{x1:.2f}%" y1="{y1:.1f}" x2="{x2:.2f}%" y2="{y2:.1f}" stroke="{stroke}"' + (
        f' stroke-dasharray="{dash}"/>' if dash else "/>"
    )


def _told(name: str, course: Sequence[tuple[float, float]], scale: float) -> str:
    above, below = _ENDS[name]
    said = "; ".join(
        f"{number}. {scale * abs(value):.0f} % {above if value > 0 else below}, give or take "
        f"{scale * within:.0f} %"
        for number, (value, within) in enumerate(course, start=1)
    )
    return f"{name} of the repair beside the old gold, of how far the drawing reaches: {said}."
