"""The plan painted on the photograph of the piece, on its page."""

import sys
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import open_app, open_piece, visit
from tonematch.demonstration import PIECE, demo_photograph, load_demonstration
from tonematch.logbook.store import open_logbook
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.marked import compare_marked


@pytest.fixture
def plan_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    path, shown = tmp_path / "logbook.sqlite", demo_photograph("scene-1.jpg")
    marked = shown.marked()
    gap = compare_marked(marked, marked, usual_card(), PIECE.tolerance)
    with open_logbook(path) as logbook:
        load_demonstration(logbook)
        logbook.keep_photo(shown.data, shown.name, PIECE.name)
        logbook.keep_comparison(PIECE.name, gap, {marked.photo.sha256: marked.aids})
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    app = open_app()
    open_piece(app, PIECE.name)
    return visit(app, "Plan")


def _pictures(app: AppTest) -> list[str]:
    """Addresses of the pictures on the page; another picture has another."""
    return [one.url for image in app.get("image") for one in image.proto.imgs]


@pytest.mark.proof
def test_the_slider_shows_the_repair_now_and_after_each_layer(plan_page: AppTest) -> None:
    app = plan_page
    assert not app.exception
    slider, *_ = (s for s in app.select_slider if s.label == "From now to the end")
    assert slider.value == slider.options[-1] != "now"
    end = _pictures(app)
    assert end  # each plan has its picture
    slider.set_value("now").run()
    assert not app.exception
    now = _pictures(app)
    assert now[0] != end[0]
    app.session_state["whole-1"] = True  # the fold, opened
    app.run()
    assert len(_pictures(app)) == len(end) + 1
    (lamp, *_) = (radio for radio in app.radio if radio.label == "Seen in")
    lamp.set_value("warm light").run()
    assert _pictures(app)[0] != now[0]
