"""The verdict as one ruler: from what nobody can tell to what is far apart.

Black, white and grey, so that no tint of the page changes how the golds beside it look.
"""

import re
from html import escape
from itertools import pairwise
from textwrap import wrap

import numpy as np

from tonematch.measure.core import Comparison, Verdict
from tonematch.screens.showing.plain import data_url
from tonematch.swatchbook import swatch_table

_SIGNS: dict[Verdict, tuple[str, str]] = {
    "match": ("=", "Near enough"),
    "no match": ("\u2260", "Not there yet"),
    "too close to call": ("\u2248", "Too close to call"),
}
_LIES: dict[Verdict, str] = {
    "match": "before the mark of what is near enough",
    "no match": "beyond the mark of what is near enough",
    "too close to call": "across the mark of what is near enough",
}
_PARTS = swatch_table("ruler.toml")["part"]
PARTS = tuple(str(part["words"]) for part in _PARTS)
_FILLS = ("#fff", "#ddd", "#bbb", "#999")
# Where the parts end, in % of the width: each holds its words on a phone.
_ENDS = (3.0, 30.0, 58.0, 77.0, 97.0)
_LEGEND = (
    '<p class="tm-note">Dot: as read. Bar: where it may lie, 19 times of 20. Line: up to here it '
    "is near enough.</p>"
)


def ruler_html(gap: Comparison, small: bool = False) -> str:
    """The ruler, the verdict beneath it, and the difference in words.

    Small, for another page, it has no legend. The drawing goes as a picture with a text
    alternative: Streamlit strips SVG from a page's HTML.
    """
    picture = data_url(_drawn(gap).encode(), "svg+xml")
    sign, verdict = _SIGNS[gap.verdict]
    first, dot, advice = gap.words.partition(". ")
    if gap.verdict != "too close to call":
        advice = ""  # of use to nobody but a specialist
    return (
        f'<div class="tm-ruler{" tm-small" if small else ""}">'
        f'<img alt="{escape(_told(gap))}" src="{picture}">'
        f'<p class="tm-verdict" role="status"><span aria-hidden="true">{sign}</span>'
        f"<span>{verdict}: {_between(*gap.interval)}</span></p>"
        f'<p class="tm-words">{escape(first + dot)}</p><p>{escape(_in_parts(advice))}</p>'
        f"{'' if small else _LEGEND}</div>"
    )


def say_marks() -> str:
    """Where the parts of the ruler end, and by whose word."""
    marks = "; ".join(f"{p['words']} up to {p['up_to']:g}: {p['source']}" for p in _PARTS)
    return f"The ruler, in CIEDE2000: {marks}."


def _told(gap: Comparison) -> str:
    """What the drawing shows."""
    return (
        f"A ruler in {len(PARTS)} parts: {', '.join(PARTS)}. The difference reads as "
        f"{how_far(gap.delta_e)}; its bar covers {_between(*gap.interval)} and lies "
        f"{_LIES[gap.verdict]}, which stands in: {how_far(gap.tolerance)}."
    )


def _between(low: float, high: float) -> str:
    ends = how_far(low), how_far(high)
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


def how_far(delta_e: float) -> str:
    """In which part of the ruler a CIEDE2000 lies, in that part's words."""
    return str(next((p for p in _PARTS if delta_e <= p["up_to"]), _PARTS[-1])["words"])


def _in_parts(advice: str) -> str:
    """What would settle it, with the parts of the ruler in the place of numbers, each said once."""
    told: set[str] = set()

    def parts(found: re.Match[str]) -> str:
        low, high = (how_far(float(end)) for end in found.groups())
        words = f"within '{low}'" if low == high else f"between '{low}' and '{high}'"
        if words in told:
            return "likewise"
        told.add(words)
        return words

    advice = advice.removeprefix("It is too close to call. ")  # as the verdict above it says
    return re.sub(r"between (\d+\.\d) and (\d+\.\d)", parts, advice)


def _place(delta_e: float) -> float:
    """Where it stands, in % of the drawing's width."""
    return float(np.interp(delta_e, [0.0, *(part["up_to"] for part in _PARTS)], _ENDS))


def _drawn(gap: Comparison) -> str:
    """The ruler as SVG, as wide as the page gives it; sizes across in %, all others in pixels."""
    parts = ""
    for part, fill, (left, right) in zip(_PARTS, _FILLS, pairwise(_ENDS), strict=True):
        width, said = right - left, part["words"]
        parts += f'<rect x="{left}%" y="26" width="{width}%" height="34" fill="{fill}"/>'
        for row, words in enumerate(wrap(said, len(said) // 2 + 2, break_long_words=False)):
            y = 80 + 19 * row
            parts += f'<text x="{left + width / 2}%" y="{y}" text-anchor="middle">{words}</text>'
    low, high, at, mark = map(_place, (*gap.interval, gap.delta_e, gap.tolerance))
    anchor = "start" if mark < 25.0 else "end" if mark > 75.0 else "middle"
    line = f'<line x1="{mark:.2f}%" x2="{mark:.2f}%" y1="20" y2="66" stroke'
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" font-family="Arial, sans-serif" font-size="16">'
        "<style>rect{stroke:#111;stroke-width:1.5px}text{fill:#111}</style>"
        f'{parts}<rect x="{low:.2f}%" y="36" width="{max(high - low, 0.5):.2f}%" height="14" '
        f'fill="#111"/><circle cx="{at:.2f}%" cy="43" r="9" fill="#fff" stroke="#111" '
        f'stroke-width="4"/>{line}="#fff" stroke-width="9"/>{line}="#111" stroke-width="4"/>'
        f'<text x="{mark:.2f}%" y="15" text-anchor="{anchor}" font-weight="bold">near enough'
        "</text></svg>"
    )
