"""What is told and proposed of a photograph once it is handed over, and what marks hold."""

import re
import sys
from html import unescape
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.measure.chart_photographs import NO_PHOTOS, PHOTOS, are_there
from tests.screens.app_pages import SIDES, as_read, open_app, press, said, type_areas, visit
from tonematch.demonstration import demo_photograph
from tonematch.measure.area.areas import Shape, shape_of
from tonematch.screens.asking.shots import NO_CARD
from tonematch.screens.showing import held
from tonematch.swatchbook import swatch_path

ROLES = ("card", "original", "repair")
TAKE = "Take what was found"


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    """The photograph's page with the demonstration on it."""
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(tmp_path / "logbook.sqlite")])
    return press(open_app(), "Put it on the bench")


def _hand_over(app: AppTest, name: str) -> AppTest:
    picture = swatch_path("demo", name).read_bytes()
    app.file_uploader(key="upload-both").upload(name, picture, "image/jpeg").run()
    assert not app.exception
    return app


def _buttons(app: AppTest) -> list[str]:
    return [as_read(button.label) for button in app.button]


def _box(app: AppTest, role: str) -> list[float | None]:
    values = {number.label: number.value for number in app.number_input}
    return [values[f"{role.capitalize()}, {side} (px)"] for side in SIDES]


def _held(app: AppTest) -> str:
    pages = [e.proto.body for e in app.get("html") if '<ul class="tm-held"' in e.proto.body]
    return re.sub(" +", " ", unescape(re.sub(r"<[^>]+>", " ", " ".join(pages)))).strip()


def _near(box: list[float | None], true: Shape, part: float) -> bool:
    """Whether the middles lie within a part of the true box's size."""
    assert None not in box
    x, y, w, h = (float(side or 0.0) for side in box)
    across, down = x + w / 2 - true[0] - true[2] / 2, y + h / 2 - true[1] - true[3] / 2
    return abs(across) < part * true[2] and abs(down) < part * true[3]


def test_the_demonstration_opens_ready_to_compare(
    app: AppTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = "Card even Original softly mottled Repair even White card even Black card even"
    assert _held(app) == told
    assert NO_CARD not in said(app)
    monkeypatch.delattr(held, "glance")  # what was looked at is not looked at again at the press
    press(app, "Compare the two")
    assert not app.exception
    assert not app.error
    assert app.header[0].value == "Compare"


def test_in_the_place_of_a_wrong_file_the_photograph_stays_with_its_marks(app: AppTest) -> None:
    marked = _held(app)
    app.file_uploader(key="upload-both").upload("notes.jpg", b"words", "image/jpeg").run()
    assert not app.exception
    (error,) = app.error
    assert "notes.jpg is not a picture that can be read: give " in as_read(error.value)
    assert _held(app) == marked
    assert "Compare the two" in _buttons(app)
    _hand_over(app, "scene-3.jpg")
    assert not app.error
    for place, name in (("sheet-both", "sheet.jpg"), ("own-both", "profile.json")):
        app.file_uploader(key=place).upload(name, b"words", "text/plain").run()
        assert not app.exception
        assert name in as_read(app.error[-1].value)
        assert TAKE in _buttons(app)


@pytest.mark.proof
def test_the_next_photograph_of_the_place_needs_one_press_to_be_marked(app: AppTest) -> None:
    press(press(app, "Compare the two"), "Keep it and plan")
    _hand_over(visit(app, "Photograph"), "scene-2-after-1.jpg")
    # What is proposed is not used before a person takes it.
    assert "Compare the two" not in _buttons(app)
    assert all(_box(app, role) == [None] * 4 for role in ROLES)
    assert _held(app) == ""
    press(app, TAKE)
    assert TAKE not in _buttons(app)
    true = demo_photograph("scene-2-after-1.jpg").areas
    for role in ROLES:
        assert _near(_box(app, role), shape_of(true[role]), 0.1), role
    press(app, "Compare the two")
    assert not app.error
    assert app.header[0].value == "Compare"


@pytest.mark.proof
def test_another_place_is_proposed_no_areas_but_its_cards(app: AppTest) -> None:
    press(press(app, "Compare the two"), "Keep it and plan")
    _hand_over(visit(app, "Photograph"), "separate-repair.jpg")
    press(app, TAKE)
    true = demo_photograph("separate-repair.jpg").areas
    assert _near(_box(app, "card"), shape_of(true["card"]), 0.1)
    assert _box(app, "original") == _box(app, "repair") == [None] * 4


def test_a_photograph_is_judged_when_it_is_handed_over_and_its_boxes_when_marked(
    app: AppTest,
) -> None:
    _hand_over(app, "overexposed.jpg")
    told = as_read(said(app))
    assert re.search(r"7\d % of the picture is clipped white: .* with less exposure\.", told)
    assert "does not say how its colours are meant" in told
    assert NO_CARD in told
    assert TAKE not in _buttons(app)
    type_areas(app, {"Original": (400, 400, 280, 190), "Card": (200, 200, 80, 80)})
    assert NO_CARD in said(app)  # until all is marked: as it goes, it moves the picture
    (sentence,) = re.findall("\u26a0 (.*overexposed .* photograph again[^.]*)", _held(app))
    assert sentence.count("Original") == 1


@pytest.mark.proof
@pytest.mark.skipif(not are_there(), reason=NO_PHOTOS)
def test_a_chart_that_is_seen_is_used_by_one_press(app: AppTest) -> None:
    name = "phones/jtvd_color_checker_8_.jpg"
    shown = (PHOTOS / name).read_bytes()
    app.file_uploader(key="upload-both").upload("chart.jpg", shown, "image/jpeg").run()
    (box,) = (check for check in app.checkbox if check.label.startswith("A 24-patch chart"))
    assert not box.value
    assert "Near a match it leaves less than half the doubt of the grey card alone." in said(app)
    press(app, "Use the 24-patch chart that was found")
    assert not app.exception
    (box,) = (check for check in app.checkbox if check.label.startswith("A 24-patch chart"))
    assert box.value
    assert "The chart was found" in said(app)
