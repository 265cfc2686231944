"""Before and after at the same place, one picture over the other, and a slider between them."""

from collections.abc import Sequence
from pathlib import Path

import streamlit as st

from tonematch.screens.showing.plain import data_url

_FILES = Path(__file__).parents[1] / "canvas"

_wipe = st.components.v2.component(
    "tonematch_wipe",
    html=(
        '<figure><div class="pictures"><img><img></div>'
        '<input type="range" min="0" max="100" aria-label="From before to after">'
        "<figcaption><span></span><span></span></figcaption></figure>"
    ),
    css=(_FILES / "wipe.css").read_text(encoding="utf-8"),
    js=(_FILES / "wipe.js").read_text(encoding="utf-8"),
)


def show_wipe(
    key: str, pictures: tuple[bytes, bytes, float], words: Sequence[str], alts: Sequence[str]
) -> None:
    """Show two JPEG files of one size; the first lies at the left of the slider.

    With them comes where that starts, a share of the width; `words` say when each was.
    """
    *jpegs, at = pictures
    sides: dict[str, object] = {
        side: {"picture": data_url(jpeg, "jpeg"), "words": when, "alt": alt}
        for side, jpeg, when, alt in zip(("before", "after"), jpegs, words, alts, strict=True)
    }
    _wipe(key=key, data=sides | {"at": round(100.0 * at)})
