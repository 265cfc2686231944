"""Opening pages of the app without a browser, for the tests of several pages."""

from pathlib import Path

from streamlit.testing.v1 import AppTest

APP = Path(__file__).resolve().parents[2] / "app.py"
PATIENCE = 120


def open_app() -> AppTest:
    """The first page."""
    return AppTest.from_file(str(APP), default_timeout=PATIENCE).run()


def said(app: AppTest) -> str:
    """All words of the page."""
    kinds = (app.markdown, app.info, app.success, app.error, app.warning, app.caption)
    return "\n".join(str(element.value) for kind in kinds for element in kind)


def visit(app: AppTest, room: str) -> AppTest:
    """Another page."""
    app.session_state["next_room"] = room
    return app.run()


def press(app: AppTest, label: str) -> AppTest:
    """A button by its label."""
    (button,) = (b for b in app.button if b.label == label)
    return button.click().run()
