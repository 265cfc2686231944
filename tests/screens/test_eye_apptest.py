"""Train the eye: what is said is held against what was measured, and kept."""

import sys
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import as_read, open_app, press, said, visit
from tests.screens.toned_piece import LAYER, make_toned
from tonematch.logbook.core import Judgement
from tonematch.logbook.store import open_logbook

SHOW = "Show what was measured"


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    return path


def eye() -> AppTest:
    app = open_app()
    app.session_state["part"] = "Train the eye"
    return visit(app, "Logbook")


def say(app: AppTest, *answers: str) -> AppTest:
    """Answer the questions from the top, and ask what was measured."""
    for radio, answer in zip(app.radio, answers, strict=True):
        radio.set_value(next(o for o in radio.options if as_read(o) == answer))
    return press(app, SHOW)


def test_an_empty_logbook_asks_of_invented_golds_and_keeps_what_is_said(
    logbook_file: Path,
) -> None:
    app = eye()
    assert "These two are invented." in said(app)
    press(app, SHOW)
    assert "Say something to each" in said(app)
    layer = as_read(app.radio[2].options[0])
    say(app, "darker", "far", layer)
    assert not app.exception
    assert "Which way:" in said(app)
    with open_logbook(logbook_file) as logbook:
        (kept,) = logbook.judgements()
        assert logbook.trials() == []
    assert (kept.way, kept.far, kept.layer) == ("darker", "far", layer)
    before = [b.proto.body for b in app.get("html")]
    assert len(press(app, "Next pair").radio) == 3
    assert [b.proto.body for b in app.get("html")] != before


def test_the_gilders_own_pair_is_told_as_it_was_read_and_what_was_laid(
    logbook_file: Path,
) -> None:
    """Every pair of the piece: the repair was lighter in both, as the verdicts of both say."""
    for gap in make_toned(logbook_file):
        assert "lighter than the original" in gap.words
    app = eye()
    assert len(app.get("image")) == 1
    asked = LAYER in [as_read(o) for r in app.radio for o in r.options]
    say(app, "lighter", "plain", *([LAYER] if asked else []))
    assert "Which way:** lighter" in said(app)
    assert "which way 1" in said(app)
    assert (f"Laid was** {LAYER}, half of the full mix, 1 coat: it became" in said(app)) == asked


def test_how_often_the_eye_was_right_is_told_of_the_last_and_of_those_before(
    logbook_file: Path,
) -> None:
    with open_logbook(logbook_file) as logbook:
        for number in range(30):
            way = "darker" if number < 10 else "lighter"
            laid = "raw umber wash" if number % 2 else ""
            logbook.keep_judgement(
                Judgement(way, ("lighter", "warmer"), "far", "plain", "dark wax", laid)
            )
    told = said(eye())
    assert "Of your last 20 you said what was so: which way 20, how far 0, " in told
    assert "the layer that was laid 0 of 10." in told
    assert "Of the 10 before you said what was so: which way 0" in told
