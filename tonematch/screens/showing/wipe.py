"""Before and after at the same place, one picture over the other, and a slider between them."""

from base64 import b64encode
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import streamlit as st
from numpy.typing import NDArray
from PIL import Image

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


@dataclass(frozen=True, eq=False)
class Side:
    """One of the two pictures: sRGB codes (h, w, 3), when it was, and what it shows."""

    codes: NDArray[np.uint8]
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
        name: {"picture": jpeg_url(side.codes), "words": side.words, "alt": side.alt}
        for name, side in sides.items()
    }
    _wipe(key=key, data=data | {"at": round(100.0 * at)})


def jpeg_url(codes: NDArray[np.uint8]) -> str:
    """A picture as a data URL, so that the browser asks nobody for it."""
    file = BytesIO()
    # Without subsampling of colours, which beside a swatch would show.
    Image.fromarray(codes).save(file, format="JPEG", quality=90, subsampling=0)
    return f"data:image/jpeg;base64,{b64encode(file.getvalue()).decode('ascii')}"
