"""The story of a piece: photographs in time, the way to the old gold, each layer's two swatches."""

import re
import shutil
import sys
from html import unescape
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import open_app, open_piece, press, said, visit
from tests.screens.toned_piece import LAYER, make_toned
from tonematch.demonstration import PIECE
from tonematch.logbook.store import open_logbook
from tonematch.measure.core import Comparison


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Comparison, Comparison]]:
    path = tmp_path_factory.mktemp("story") / "logbook.sqlite"
    return path, make_toned(path)


@pytest.fixture(autouse=True)
def logbook_file(
    kept: tuple[Path, tuple[Comparison, Comparison]], monkeypatch: pytest.MonkeyPatch
) -> Path:
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(kept[0])])
    return kept[0]


def story() -> AppTest:
    """The story, reached from the piece's page."""
    app = press(visit(open_piece(open_app(), PIECE.name), "Piece"), "Its story")
    assert not app.exception
    assert app.header[0].value == "Logbook"
    return app


def pictures(app: AppTest) -> list[str]:
    """Alternatives of all pictures that stand in the page's HTML."""
    bodies = [element.proto.body for element in app.get("html")]
    return [unescape(alt) for body in bodies for alt in re.findall(r'<img alt="([^"]+)"', body)]


def test_the_way_is_told_as_it_was_read(
    kept: tuple[Path, tuple[Comparison, Comparison]],
) -> None:
    """What a person who sees no picture is told are the differences of both comparisons."""
    (way,) = (alt for alt in pictures(story()) if alt.startswith("Lightness"))
    lightness = way.partition("Hue")[0]
    told = [float(n) for n in re.findall(r"\d\. (\d+) % lighter, give or take", lightness)]
    assert told[0] > told[1] > 0.0
    was, came = (gap.delta_L for gap in kept[1])
    assert told[1] / told[0] == pytest.approx(came / was, abs=0.02)


def test_a_layer_stands_between_its_photographs_with_what_was_expected() -> None:
    app = story()
    days = [h.value for h in app.subheader if h.value[0].isdigit()]
    assert [day[:2] for day in days] == ["1.", "2."]
    # The fixture's expectation is 4 units of L* darker than what came.
    assert "It came out lighter than expected, as happens only once in 900." in said(app)
    assert LAYER in said(app)
    assert len(app.get("image")) == 2
    assert len(app.get("bidi_component")) == 2  # the page's own mark, and the slider


def test_a_row_opens_to_its_photographs_and_a_lost_one_leaves_the_colours(
    logbook_file: Path,
) -> None:
    app = visit(open_app(), "Logbook")
    (row,) = (e.proto.body for e in app.get("html") if "tm-row" in e.proto.body[:40])
    assert row.count("<img") == 2
    assert len(press(app, "Open 1").get("bidi_component")) == 2
    with open_logbook(logbook_file) as logbook:
        photographs = logbook.photographs
        # Which are made anew from the photographs.
        shutil.rmtree(logbook.place.folders["small pictures"][0])
    lost = photographs.rename(photographs.with_name("lost"))
    st.cache_data.clear()
    try:
        app = press(visit(open_app(), "Logbook"), "Open 1")
        (row,) = (e.proto.body for e in app.get("html") if "tm-row" in e.proto.body[:40])
        assert row.count("<img") == 0
        assert LAYER in row
        assert len(app.get("bidi_component")) == 1
    finally:
        lost.rename(photographs)
