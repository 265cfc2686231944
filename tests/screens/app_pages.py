"""Opening pages of the app without a browser, for the tests of several pages."""

import re
from pathlib import Path

from streamlit.testing.v1 import AppTest

APP = Path(__file__).resolve().parents[2] / "app.py"
PATIENCE = 120


def open_app() -> AppTest:
    """The first page."""
    return AppTest.from_file(str(APP), default_timeout=PATIENCE).run()


def said(app: AppTest) -> str:
    """All words of the page, as a person reads them."""
    kinds = (app.markdown, app.info, app.success, app.error, app.warning, app.caption)
    return "\n".join(as_read(str(element.value)) for kind in kinds for element in kind)


def as_read(markdown: str) -> str:
    """Markdown without the backslashes that keep punctuation plain."""
    return re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", markdown)


def visit(app: AppTest, room: str) -> AppTest:
    """Another page."""
    app.session_state["next_room"] = room
    return app.run()


def press(app: AppTest, label: str) -> AppTest:
    """A button by its label."""
    (button,) = (b for b in app.button if as_read(b.label) == label)
    return button.click().run()
