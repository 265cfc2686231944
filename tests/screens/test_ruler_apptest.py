"""The verdict on the Compare page and at the head of the plan: both golds, and one ruler."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.cases import in_ci
from tests.screens.app_pages import open_app, open_piece, ruler, said, visit
from tests.screens.test_plain import HOSTILE
from tonematch.demonstration import PIECE, demo_photograph
from tonematch.logbook.store import open_logbook
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.marked import compare_marked

Compared = Callable[[str, float], AppTest]
BADLY_NAMED = "&<svg onload=alert(1)>"


@pytest.fixture
def compared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Compared:
    """The Compare page of a bundled photograph, by its name and the piece's tolerance."""

    def open_page(name: str, tolerance: float) -> AppTest:
        path, shown = tmp_path / "logbook.sqlite", demo_photograph(name)
        monkeypatch.setattr("sys.argv", ["app.py", "--logbook", str(path)])
        marked = shown.marked()
        piece = replace(PIECE, name=HOSTILE + BADLY_NAMED, tolerance=tolerance)
        with open_logbook(path) as logbook:
            logbook.add_piece(piece)
            logbook.keep_photo(shown.data, BADLY_NAMED, piece.name)
            gap = compare_marked(marked, marked, usual_card(), tolerance)
            logbook.keep_comparison(piece.name, gap)
        app = open_app()
        open_piece(app, piece.name)
        app = visit(app, "Compare")
        assert not app.exception
        return app

    return open_page


# True CIEDE2000 of the rendered pictures (swatches/demo/truth.json): 0.7, 2.5 and 6.9.
@pytest.mark.parametrize(
    ("name", "tolerance", "verdict", "drawn"),
    [
        (
            "scene-2-after-2.jpg",
            3.5,
            "Near enough: nobody can tell to just visible side by side",
            "its bar covers nobody can tell to just visible side by side and lies before the mark "
            "of what is near enough, which stands in: plain.",
        ),
        in_ci(
            "scene-2-after-1.jpg",
            2.0,
            "Too close to call: just visible side by side to plain",
            "its bar covers just visible side by side to plain and lies across the mark of what is "
            "near enough, which stands in: plain.",
        ),
        (
            "scene-1.jpg",
            1.0,
            "Not there yet: plain to far",
            "reads as far; its bar covers plain to far and lies beyond the mark of what is near "
            "enough, which stands in: just visible side by side.",
        ),
    ],
)
def test_the_ruler_says_what_it_draws(
    compared: Compared, name: str, tolerance: float, verdict: str, drawn: str
) -> None:
    app = compared(name, tolerance)
    shown = ruler(app)
    assert verdict in shown.words
    assert drawn in shown.alternative
    assert "The repair is " in shown.words
    assert not re.search(r"\d\.\d", shown.words)
    assert shown.words.casefold().count("too close to call") <= 1
    told = re.findall("(?:between|within) '.*?'(?: and '.*?')?", shown.words)
    assert len(told) == len(set(told))  # nothing is said twice
    # Dot, bar and mark are told apart by their shapes, and lie as the alternative says.
    (left, wide), mark = shown.bar, shown.mark
    assert left <= shown.dot <= left + wide
    lies = "before" if left + wide <= mark else "beyond" if mark <= left else "across"
    assert f"lies {lies} the mark" in shown.alternative
    greys = set(re.findall(r"#[0-9a-f]+", shown.svg))
    assert all(len(set(grey[1:])) == 1 for grey in greys)
    # The plan begins with the same ruler, and nowhere outside a fold says a number of colour.
    assert ruler(visit(app, "Plan")).svg == shown.svg
    assert "from the original; the tolerance is" not in said(app)


def test_the_pages_of_a_piece_begin_with_its_picture(compared: Compared) -> None:
    app = compared("scene-1.jpg", 2.0)
    for room in ("Piece", "Record"):
        (image,) = (one for element in visit(app, room).get("image") for one in element.proto.imgs)
        assert image.alt.endswith("as photographed")


def test_both_golds_are_shown_edge_to_edge(compared: Compared) -> None:
    app = compared("scene-1.jpg", 2.0)
    (image,) = (one for element in app.get("image") for one in element.proto.imgs)
    assert image.alt.startswith("The old gold at the left and, edge to edge with it, the repair")


def test_numbers_of_colour_stand_in_their_fold_alone(compared: Compared) -> None:
    app = compared("scene-1.jpg", 2.0)
    (fold,) = (one for one in app.expander if one.label == "In numbers, for specialists")
    inside = "\n".join(str(one.value) for one in (*fold.markdown, *fold.caption))
    assert "CIEDE2000 6." in inside
    assert "Paravina et al. 2015" in inside
    number = re.compile(r"(CIEDE2000|L\*|interval|between) [0-9.]+|[0-9.]+ pixels")
    assert number.findall(said(app)) == number.findall(inside)
    assert not number.search(ruler(app).words)


def test_a_name_puts_no_markup_beside_the_ruler(compared: Compared) -> None:
    app = compared("scene-1.jpg", 2.0)
    assert f"On the bench: {HOSTILE}{BADLY_NAMED}" in said(app)
    for page in (element.proto.body for element in app.get("html")):
        assert "<svg" not in page
        assert "src=x" not in page
