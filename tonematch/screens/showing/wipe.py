"""Before and after at the same place, one picture over the other, and a slider between them."""

from base64 import b64encode
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

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


@dataclass(frozen=True)
class Side:
    """One of the two pictures: a JPEG file, when it was, and what it shows."""

    jpeg: bytes
    words: str
    alt: str


def show_wipe(key: str, before: Side, after: Side, at: float) -> None:
    """Show both, of one size; the earlier one lies at the left of the slider, which starts `at`.

    Parameters
    ----------
    at : float
        A share of the width.
    """
    sides = {"before": before, "after": after}
    data: dict[str, object] = {
        name: {"picture": jpeg_url(side.jpeg), "words": side.words, "alt": side.alt}
        for name, side in sides.items()
    }
    _wipe(key=key, data=data | {"at": round(100.0 * at)})


def jpeg_url(jpeg: bytes) -> str:
    """A JPEG file as a data URL, so that the browser asks nobody for it."""
    return f"data:image/jpeg;base64,{b64encode(jpeg).decode('ascii')}"
