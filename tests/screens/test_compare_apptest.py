"""The compare page looked at more closely: evenness, from afar, the map, lustre."""

import io
import sys
from pathlib import Path

import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import (
    as_read,
    demo_boxes,
    hand_over,
    open_app,
    open_piece,
    press,
    said,
    type_areas,
    visit,
)
from tonematch.demonstration import PIECE, demo_photograph
from tonematch.errors import ReadingError
from tonematch.logbook.store import open_logbook
from tonematch.measure.appearance.look import look_at_lustre, look_at_surfaces, map_of
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.marked import compare_marked
from tonematch.photo.decode import load_photo
from tonematch.record.document import write_record
from tonematch.swatchbook import swatch_path

SCENE = "scene-1.jpg"


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A logbook with the invented piece, its photograph and its comparison."""
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    shown = demo_photograph(SCENE)
    marked = shown.marked()
    with open_logbook(path) as logbook:
        logbook.add_piece(PIECE)
        logbook.keep_photo(shown.data, SCENE, PIECE.name)
        logbook.keep_comparison(
            PIECE.name, compare_marked(marked, marked, usual_card(), PIECE.tolerance)
        )
    return path


def _compare() -> AppTest:
    app = open_app()
    open_piece(app, PIECE.name)
    return visit(app, "Compare")


@pytest.mark.proof
def test_surfaces_are_looked_at_another_day_and_the_record_says_so(
    logbook_file: Path, tmp_path: Path
) -> None:
    app = _compare()
    (width,) = (n for n in app.number_input if n.label.startswith("How wide is the part"))
    width.set_value(60.0).run()
    press(app, "Look closer")
    assert not app.exception
    assert not app.error
    told = said(app)
    assert "From 0.7 m the repair" in told
    assert "From 3 m the repair" in told
    assert "in patches about 17 mm across" in told
    assert "leave about half of the gold clear" in told
    assert [b for b in app.get("download_button") if "map" in b.proto.label]
    with open_logbook(logbook_file) as logbook:
        (kept,) = logbook.history(PIECE.name).comparisons
        record = write_record(logbook.histories(PIECE.name), tmp_path / "record.html").read_text(
            encoding="utf-8"
        )
    assert len(kept.findings) == 4
    assert all(finding in record for finding in kept.findings)
    assert "Evenness (standard deviation of L* and of C*ab)" in record


@pytest.mark.proof
@pytest.mark.parametrize(
    ("picture", "told"), [("scene-2-after-2.jpg", True), ("scene-1.jpg", False)]
)
def test_a_match_that_is_too_even_is_told_its_last_step_unasked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, picture: str, told: bool
) -> None:
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(tmp_path / "logbook.sqlite")])
    app = open_app()
    next(t for t in app.text_input if t.label.startswith("Name")).set_value("frame")
    press(app, "Add this piece")
    type_areas(hand_over(app, picture), demo_boxes(picture))
    press(app, "Compare the two")
    assert said(app).count("The old gold breaks up in patches") == told
    press(app, "Look closer")
    assert said(app).count("The old gold breaks up in patches") == 1
    press(app, "Make a plan")
    assert not app.exception
    assert ("The old gold breaks up in patches" in said(app)) is told
    assert ("near enough already" in said(app)) is told


@pytest.mark.proof
def test_lustre_wants_the_lamp_moved(logbook_file: Path) -> None:
    app = _compare()
    app.file_uploader[0].upload("two.jpg", _shot(0.97), "image/jpeg").run()
    press(app, "Compare the lustre")
    assert not app.exception
    assert not app.error
    # One further picture makes two, and lustre takes three.
    assert "three or more with the lamp moved" in said(app)
    assert "Taken as body colour: lamps at the sides, camera square" in said(app)
    with open_logbook(logbook_file) as logbook:
        (kept,) = logbook.history(PIECE.name).comparisons
    assert len(kept.findings) == 1
    press(app, "Plan from the body colours")
    assert not app.exception
    assert "body colours" in said(app)


@pytest.mark.proof
def test_lustre_of_three_pictures_is_kept_as_a_number_and_planned(logbook_file: Path) -> None:
    app = _compare()
    shots = [("two.jpg", _shot(0.97), "image/jpeg"), ("three.jpg", _shot(0.94), "image/jpeg")]
    app.file_uploader[0].set_value(shots).run()
    press(app, "Compare the lustre")
    assert not app.exception
    assert not app.error
    assert "No picture looks into the mirror" in said(app)
    with open_logbook(logbook_file) as logbook:
        (kept,) = logbook.history(PIECE.name).comparisons
    lustres = kept.original.reading.lustre, kept.repair.reading.lustre
    # Three pictures of one light: nothing gleams more in one than in another.
    assert lustres == pytest.approx((0.0, 0.0), abs=0.1)
    press(app, "Make a plan")
    assert not app.exception
    assert "The lustre should end" in said(app)
    # Another day it is planned with, too.
    again = open_app()
    open_piece(again, PIECE.name)
    assert "The lustre should end" in said(visit(again, "Plan"))


@pytest.mark.proof
def test_lustre_refuses_the_picture_that_is_there_already(logbook_file: Path) -> None:
    app = _compare()
    picture = swatch_path("demo", SCENE).read_bytes()
    app.file_uploader[0].upload("one.jpg", picture, "image/jpeg").run()
    press(app, "Compare the lustre")
    assert not app.exception
    (error,) = app.error
    assert "'one.jpg' is the same picture" in as_read(error.value)
    with open_logbook(logbook_file) as logbook:
        (kept,) = logbook.history(PIECE.name).comparisons
        assert len(logbook.history(PIECE.name).photographs) == 1
    assert not kept.findings


def _shot(light: float) -> bytes:
    """The scene taken once more: a little darker."""
    with Image.open(swatch_path("demo", SCENE)) as picture:
        darker = picture.point(lambda code: light * code)
        file = io.BytesIO()
        darker.save(file, "JPEG", quality=95, icc_profile=picture.info.get("icc_profile"))
    return file.getvalue()


def test_map_shows_both_areas_and_their_surroundings() -> None:
    marked = demo_photograph(SCENE).marked()
    photo = marked.photo
    gap = compare_marked(marked, marked, usual_card(), 2.0)
    look = look_at_surfaces(gap, photo, photo, None, None)
    assert look.seen == ()
    with Image.open(io.BytesIO(map_of(gap, photo))) as picture:
        # Grey: it survives a black-and-white printer.
        assert picture.mode == "L"
        assert min(picture.size) > 300


def test_the_same_picture_twice_is_no_second_lamp() -> None:
    shown = demo_photograph(SCENE)
    marked = shown.marked()
    gap = compare_marked(marked, marked, usual_card(), 2.0)
    again = load_photo(shown.data, "again.jpg")
    with pytest.raises(ReadingError, match=r"'again.jpg' is the same picture as 'scene-1.jpg'"):
        look_at_lustre(gap, iter([marked.photo, again]))
