"""Opening pages of the app without a browser, for the tests of several pages."""

import json
import re
from base64 import b64decode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import unescape
from pathlib import Path

from streamlit.testing.v1 import AppTest

from tonematch.swatchbook import swatch_path

APP = Path(__file__).resolve().parents[2] / "app.py"
PATIENCE = 120
SIDES = ("left", "top", "width", "height")
_TRUTH = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))


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


def open_piece(app: AppTest, name: str, zone: str = "") -> AppTest:
    """A piece, or a zone of one, from the page Today."""
    return app.button(key=f"open-{name}-{zone}").click().run()


def press(app: AppTest, label: str) -> AppTest:
    """A button by its label."""
    (button,) = (b for b in app.button if as_read(b.label) == label)
    return button.click().run()


def demo_boxes(name: str) -> dict[str, Sequence[int]]:
    """Where the areas of a bundled photograph lie, by their labels."""
    areas = _TRUTH["pictures"][name]["areas"]
    return {role.capitalize(): area["box"] for role, area in areas.items()}


def hand_over(app: AppTest, name: str) -> AppTest:
    """A bundled photograph, on a page that asks for one."""
    picture = swatch_path("demo", name).read_bytes()
    return app.file_uploader[0].upload(name, picture, "image/jpeg").run()


def type_areas(
    app: AppTest, areas: Mapping[str, Sequence[float]], sides: Sequence[str] = SIDES
) -> AppTest:
    """Type where areas lie, by their labels; the page runs once."""
    for label, place in areas.items():
        for side, value in zip(sides, place, strict=True):
            (number,) = (n for n in app.number_input if n.label == f"{label}, {side} (px)")
            number.set_value(round(value))
    return app.run()


def rows(app: AppTest) -> dict[int, str]:
    """What each row of the logbook says, by its number, from the top."""
    assert not app.exception
    bodies = [e.proto.body for e in app.get("html") if "tm-row" in e.proto.body[:40]]
    told = [unescape(re.sub(r"<[^>]+>", " ", body)) for body in bodies]
    return {int(re.findall(r"No\. (\d+)", words)[0]): words for words in told}


@dataclass(frozen=True)
class ShownRuler:
    """The ruler of a verdict: its words, its text alternative, and where it is drawn, in %."""

    words: str
    alternative: str
    svg: str

    @property
    def bar(self) -> tuple[float, float]:
        """Left edge and width."""
        found = re.search(r'<rect x="([0-9.]+)%" y="36" width="([0-9.]+)%"', self.svg)
        assert found is not None
        return float(found[1]), float(found[2])

    @property
    def dot(self) -> float:
        """The reading itself."""
        return float(re.findall(r'<circle cx="([0-9.]+)%"', self.svg)[0])

    @property
    def mark(self) -> float:
        """The tolerance."""
        return float(re.findall(r'<line x1="([0-9.]+)%"', self.svg)[0])


def ruler(app: AppTest) -> ShownRuler:
    """The only ruler on the page."""
    (page,) = (e.proto.body for e in app.get("html") if "tm-ruler" in e.proto.body[:40])
    found = re.search(r'alt="([^"]+)" src="data:image/svg\+xml;base64,([^"]+)"', page)
    assert found is not None
    words = unescape(re.sub(r"<[^>]+>", " ", page))
    return ShownRuler(words, unescape(found[1]), b64decode(found[2]).decode())
