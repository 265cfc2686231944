"""What a person typed, as it stands: Streamlit takes most words for Markdown."""

import re

_MARKS = re.compile(r"[!-/:-@\[-`{-~]")  # all ASCII punctuation, which a backslash makes plain
_INDENT = re.compile(r"^[ \t]+", re.MULTILINE)  # four blanks would make a block of code


def plain(words: str) -> str:
    """Words for a place that takes Markdown: a label, a sentence, a heading, a caption.

    Names, notes, file names and sentences that quote them go through here on their way to every
    page, so that none of them fetches a picture from outside or is garbled. The options of a
    selectbox and of a multiselect and the cells of a table are plain already.
    """
    return _MARKS.sub(r"\\\g<0>", _INDENT.sub("", words))
