"""What is said on a page: words as they stand, since Streamlit takes most of them for Markdown."""

import re
from base64 import b64encode
from collections.abc import Callable
from pathlib import Path

import streamlit as st

_MARKS = re.compile(r"[!-/:-@\[-`{-~]")  # all ASCII punctuation, which a backslash makes plain
_INDENT = re.compile(r"^[ \t]+", re.MULTILINE)  # four blanks would make a block of code

in_sight = st.components.v2.component(
    "tonematch_in_sight",
    html="<span></span>",
    css="span { display: block; scroll-margin: 6rem 0 1rem; }",
    js=(Path(__file__).parents[1] / "canvas" / "in_sight.js").read_text(encoding="utf-8"),
)


def plain(words: str) -> str:
    """Words for a place that takes Markdown: a label, a sentence, a heading, a caption.

    Names, notes, file names and sentences that quote them go through here on their way to every
    page, so that none of them fetches a picture from outside or is garbled. The options of a
    selectbox and of a multiselect and the cells of a table are plain already.
    """
    return _MARKS.sub(r"\\\g<0>", _INDENT.sub("", words))


def say_wrong(words: str, about: str = "the page") -> None:
    """What is wrong, in sight on a page that was scrolled elsewhere."""
    refuse(words)
    in_sight(key=f"wrong-{about}", data={"shown": words, "block": "nearest"})


def tell(words: str) -> None:
    """Tell what is good to know."""
    st.info(plain(words), icon=":material/info:")


def warn(words: str) -> None:
    """Tell what to mind."""
    st.warning(plain(words), icon=":material/warning:")


def refuse(words: str) -> None:
    """Tell what is wrong and what to do."""
    st.error(plain(words), icon=":material/error:")


def offer_file(label: str, data: bytes | str | Callable[[], str], name: str, kind: str) -> None:
    """A button that saves a file; `kind` is its media type."""
    st.download_button(label, data, name, kind, on_click="ignore", width="stretch")


def data_url(picture: bytes, kind: str) -> str:
    """A picture as an address that holds it, so that the browser asks nobody for it."""
    return f"data:image/{kind};base64,{b64encode(picture).decode('ascii')}"
