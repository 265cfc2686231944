"""What helps a reading beside the card: asked for, marked, and said where it is not found."""

import sys
from pathlib import Path

import pytest
from app_pages import open_app, press, said
from streamlit.testing.v1 import AppTest

from tonematch.screens.aids import AskedAids
from tonematch.screens.marking import CARDS, NEUTRALS


@pytest.fixture
def photograph_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(tmp_path / "logbook.sqlite")])
    return press(open_app(), "Load the demonstration")


def test_only_what_is_marked_helps() -> None:
    first, second = NEUTRALS[:2]
    asked = AskedAids({first.role: 0.9, second.role: 0.05}, CARDS[:1], None, None, None)
    aids = asked.marked({"card": (0, 0, 9, 9), second.role: (10, 20, 30, 40)})
    ((area, reflectance),) = aids.neutrals
    assert (area.name, reflectance) == (second.label, 0.05)
    assert area.corners[0] == (10.0, 20.0)
    assert aids.cards == ()
    with_card = asked.marked({CARDS[0].role: (1, 2, 3, 4)})
    assert with_card.neutrals == ()
    assert [card.role for card in with_card.cards] == ["card"]


def test_further_greys_are_marked_like_areas(photograph_page: AppTest) -> None:
    app = photograph_page
    (count,) = (n for n in app.number_input if n.label.startswith("Further greys"))
    count.set_value(2).run()
    assert not app.exception
    labels = [n.label for n in app.number_input]
    assert "Neutral 2: reflectance, 0 to 1" in labels
    assert "Neutral 2, left (px)" in labels
    assert "Neutral 3, left (px)" not in labels


def test_a_chart_that_is_not_there_is_said(photograph_page: AppTest) -> None:
    app = photograph_page
    (box,) = (c for c in app.checkbox if c.label.startswith("A 24-patch chart"))
    box.check().run()
    assert not app.exception
    assert not app.error
    assert "No chart was found" in said(app)
