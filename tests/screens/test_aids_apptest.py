"""What helps a reading beside the card: asked for, marked, remembered, and kept."""

import re
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from tests.measure.simulated_camera import (
    SIDE,
    Conditions,
    Scene,
    chart,
    neutral,
    photograph,
    random_pair,
)
from tests.screens.app_pages import as_read, open_app, press, said, type_areas, visit
from tonematch.demonstration import PIECE
from tonematch.logbook.store import open_logbook
from tonematch.measure.calibration.chart import chart_reference
from tonematch.photo.decode import load_photo
from tonematch.screens.asking.aids import AskedAids
from tonematch.screens.marking import BLACK, CARDS, CHART_CORNERS, NEUTRALS, WHITE
from tonematch.swatchbook import swatch_path

NARROWED = "the difference would be known to lie between"


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    return path


@pytest.fixture
def photograph_page(logbook_file: Path) -> AppTest:
    assert not logbook_file.exists()
    return press(open_app(), "Put it on the bench")


def test_only_what_is_marked_helps() -> None:
    photo = load_photo(swatch_path("demo", "scene-1.jpg"))
    first, second = NEUTRALS[:2]
    asked = AskedAids({first.role: 0.9, second.role: 0.05}, CARDS[:1], corners=CHART_CORNERS)
    assert asked.marks == (WHITE, BLACK, first, second, CARDS[0], *CHART_CORNERS)
    corners = {mark.role: (5.0, 5.0, 2.0, 2.0) for mark in CHART_CORNERS[:3]}
    aids = asked.marked({"card": (0, 0, 9, 9), second.role: (10, 20, 30, 40), **corners}, photo)
    ((area, reflectance),) = aids.neutrals
    assert (area.name, reflectance) == (second.label, 0.05)
    assert area.corners[0] == (10.0, 20.0)
    assert aids.cards == ()
    assert aids.chart is None
    with_card = asked.marked({CARDS[0].role: (1, 2, 3, 4)}, photo)
    assert with_card.neutrals == ()
    assert [card.role for card in with_card.cards] == ["card"]


@pytest.mark.proof
def test_further_greys_are_marked_like_areas(photograph_page: AppTest) -> None:
    app = photograph_page
    (count,) = (n for n in app.number_input if n.label.startswith("Further greys"))
    count.set_value(2).run()
    assert not app.exception
    labels = [n.label for n in app.number_input]
    assert "Neutral 2: reflectance, 0 to 1" in labels
    assert "Neutral 2, left (px)" in labels
    assert not [label for label in labels if label.startswith("Neutral 3")]


@pytest.mark.proof
def test_white_and_black_cards_are_marked_like_the_grey_one_and_narrow_the_interval(
    photograph_page: AppTest, logbook_file: Path
) -> None:
    app, scene = photograph_page, _three_tones()
    advice = r"raw or DNG.* a white and a black card.* grey card alone works, with about twice the"
    assert re.search(advice, said(app))
    _hand_over(app, scene)
    press(app, "Compare the two")
    assert not app.exception
    alone = said(app)
    # Card alone: one sentence says what would narrow it, and to what.
    told = as_read(said(app))
    assert told.count(NARROWED) == 1
    foretold = re.search(r"white and black cards.* between (\d+\.\d) and (\d+\.\d)", told)
    assert foretold is not None
    visit(app, "Photograph")
    white, black = (scene.box(len(chart()) + i) for i in (3, 4))
    type_areas(app, {"White card": white, "Black card": black})
    press(app, "Compare the two")
    assert not app.exception
    assert not app.error
    (told,) = (line for line in as_read(said(app)).splitlines() if NARROWED in line)
    assert "white and black cards" not in told
    press(app, "Keep it and plan")
    with open_logbook(logbook_file) as logbook:
        kept = logbook.history(PIECE.name).comparisons[-1]
    low, high = kept.comparison.interval
    assert high - low < 0.75 * _width(alone)
    assert (low, high) == pytest.approx([float(end) for end in foretold.groups()], abs=0.3)
    assert kept.repair.aids is not None
    assert [value for _, value in kept.repair.aids.aids.neutrals] == [0.9, 0.04]


def _width(told: str) -> float:
    """Of the interval that a page tells."""
    found = re.search(r"95 % interval ([\d.]+) to ([\d.]+)", told)
    assert found is not None
    return float(found[2]) - float(found[1])


def _check_chart(app: AppTest) -> None:
    (box,) = (c for c in app.checkbox if c.label.startswith("A 24-patch chart"))
    box.check().run()
    assert not app.exception
    assert not app.error
    assert "No chart was found" in said(app)


@pytest.mark.proof
def test_corners_of_what_is_no_chart_are_one_sentence(photograph_page: AppTest) -> None:
    app = photograph_page
    _check_chart(app)
    places = [(100, 100), (300, 100), (300, 200), (100, 200)]
    at = {mark.label: place for mark, place in zip(CHART_CORNERS, places, strict=True)}
    type_areas(app, at, ("across", "down"))
    assert not app.exception
    (told,) = app.error
    assert "does not have its colours" in told.value


@cache
def _scene() -> Scene:
    """The simulated camera's chart, whose patches touch, which no search finds; card and pair."""
    pair = random_pair(np.random.default_rng(5), 3.0)[:2]
    return Scene([*chart(), neutral(0.18), *pair], 6)


@cache
def _three_tones() -> Scene:
    """The same with white and black cards of the usual reflectances."""
    pair = random_pair(np.random.default_rng(5), 3.0)[:2]
    return Scene([*chart(), neutral(0.18), *pair, neutral(0.9), neutral(0.04)], 6)


@cache
def _shot(scene: Scene) -> bytes:
    return photograph(scene, Conditions(lamp="A"), np.random.default_rng(6))


def _hand_over(app: AppTest, scene: Scene) -> None:
    app.file_uploader[0].upload("chart.jpg", _shot(scene), "image/jpeg").run()
    boxes = (scene.box(len(chart()) + i) for i in range(3))
    type_areas(app, dict(zip(("Card", "Original", "Repair"), boxes, strict=True)))


@pytest.mark.proof
def test_a_plain_sheet_is_kept_or_left_away(photograph_page: AppTest, logbook_file: Path) -> None:
    app, scene = photograph_page, _scene()
    _hand_over(app, scene)
    plain = _shot(Scene([neutral(0.7)] * 30, 6))
    for again in (True, False):
        (sheet,) = (u for u in app.file_uploader if u.label.startswith("A picture of a plain"))
        sheet.upload("sheet.jpg", plain, "image/jpeg").run()
        assert not app.exception
        assert "even by the picture of a plain sheet, sheet.jpg" in said(app)
        if again:
            press(app, "Go on without the sheet")
    press(app, "Compare the two")
    assert not app.exception
    assert [error.value for error in app.error] == []
    press(app, "Keep it and plan")
    with open_logbook(logbook_file) as logbook:
        kept = logbook.history(PIECE.name).comparisons[-1].repair
        assert kept.aids is not None
        assert logbook.photo_bytes(kept.aids.sheet_sha256) == plain


@pytest.mark.proof
def test_a_chart_is_marked_by_its_corners_and_kept(
    photograph_page: AppTest, logbook_file: Path
) -> None:
    app, scene = photograph_page, _scene()
    _hand_over(app, scene)
    _check_chart(app)
    right, low = 6 * SIDE, 4 * SIDE
    places = [(0, 0), (right, 0), (right, low), (0, low)]
    at = {mark.label: place for mark, place in zip(CHART_CORNERS, places, strict=True)}
    type_areas(app, at, ("across", "down"))
    press(app, "Compare the two")
    assert not app.exception
    assert not app.error
    press(app, "Keep it and plan")
    with open_logbook(logbook_file) as logbook:
        kept = logbook.history(PIECE.name).comparisons[-1].repair
    assert kept.calibration is not None
    assert kept.calibration.profile is not None
    assert kept.aids is not None
    assert kept.aids.aids.chart is not None
    assert kept.aids.aids.chart.patches.keys() == chart_reference().keys()


@pytest.mark.proof
def test_answers_are_there_when_the_page_is_shown_again(photograph_page: AppTest) -> None:
    app = photograph_page
    (count,) = (n for n in app.number_input if n.label.startswith("Further greys"))
    count.set_value(2).run()
    (white,) = (n for n in app.number_input if n.label.startswith("Neutral 1: reflectance"))
    white.set_value(0.85).run()
    visit(app, "Logbook")
    visit(app, "Photograph")
    assert not app.exception
    (white,) = (n for n in app.number_input if n.label.startswith("Neutral 1: reflectance"))
    assert white.value == 0.85
    (how,) = (r for r in app.radio if r.label == "Your pictures")
    how.set_value("One picture of each").run()
    visit(app, "Compare")
    visit(app, "Photograph")
    (how,) = (r for r in app.radio if r.label == "Your pictures")
    assert how.value == "One picture of each"
