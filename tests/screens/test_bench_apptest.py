"""The pages without a browser: what an empty logbook says, adding, errors in one sentence."""

import io
import sys
from pathlib import Path

import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import NumberInput

from tests.cli.commands import Run
from tests.screens.app_pages import (
    APP,
    PATIENCE,
    as_read,
    demo_boxes,
    open_app,
    open_piece,
    press,
    rows,
    ruler,
    said,
    type_areas,
    visit,
)
from tonematch.demonstration import PIECE
from tonematch.errors import CardError
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.screens import bench as bench_page
from tonematch.screens.session import ROOMS, named_logbook
from tonematch.swatchbook import swatch_path


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    return path


def _tolerance(app: AppTest) -> NumberInput:
    """Of the piece on the bench."""
    return next(n for n in app.number_input if n.label.startswith("How far off is near enough"))


@pytest.mark.usefixtures("logbook_file")
def test_an_empty_logbook_is_welcoming_on_every_page() -> None:
    app = open_app()
    assert not app.exception
    assert "This is your bench" in said(app)
    for room in ROOMS:
        visit(app, room)
        assert not app.exception
        assert not app.error
        assert app.header[0].value == room
        assert said(app)


@pytest.mark.usefixtures("logbook_file")
def test_what_is_said_at_the_top_stands_until_a_photograph_or_another_page_comes() -> None:
    """As it went while a hand was on the page, all below it moved up and was made anew."""
    app = open_app()
    app.text_input[0].input("hall mirror")
    press(app, "Add this piece")
    place = _place_of_page(app)
    for how in ("One picture of each", "One picture shows both"):
        app.radio(key="pictures").set_value(how).run()
        assert "hall mirror is in your logbook" in said(app)
    picture = swatch_path("demo", "scene-1.jpg").read_bytes()
    app.file_uploader[0].upload("scene-1.jpg", picture, "image/jpeg").run()
    assert "hall mirror is in your logbook" not in said(app)
    assert _place_of_page(app) == place


def _place_of_page(app: AppTest) -> int:
    """Which child of the whole the page's heading stands in."""
    return next(n for n, child in app.main.children.items() if app.header[0] in list(child))


def test_a_piece_is_told_in_two_fields(logbook_file: Path) -> None:
    app = press(open_app(), "Add this piece")
    (error,) = app.error
    assert as_read(error.value) == "Give the piece a name."
    (name,) = app.text_input
    (way,) = app.radio
    assert not app.number_input
    name.set_value("hall mirror")
    way.set_value("oil gilding")
    press(app, "Add this piece")
    assert app.header[0].value == "Photograph"
    with open_logbook(logbook_file) as logbook:
        piece = logbook.piece("hall mirror")
    assert (piece.technique, piece.finish) == ("oil", "matte")


@pytest.mark.usefixtures("logbook_file")
def test_a_first_piece_is_tried_without_a_long_way() -> None:
    labels = [as_read(button.label) for button in open_app().button]
    assert labels.index("Put it on the bench") < labels.index("Add this piece")


def test_a_piece_is_changed_and_its_past_is_kept(logbook_file: Path) -> None:
    app = visit(press(open_app(), "Put it on the bench"), "Piece")
    tolerance = _tolerance(app)
    assert tolerance.value == PIECE.tolerance
    tolerance.set_value(1.5)
    press(app, "Keep the changes")
    assert not app.exception
    with open_logbook(logbook_file) as logbook:
        assert logbook.piece(PIECE.name).tolerance == 1.5
        (change,) = logbook.history(PIECE.name).changes
    assert "described anew" in change.words


@pytest.mark.usefixtures("logbook_file")
def test_a_clipped_picture_is_refused_in_one_sentence() -> None:
    app = press(open_app(), "Put it on the bench")
    picture = swatch_path("demo", "overexposed.jpg").read_bytes()
    app.file_uploader[0].upload("overexposed.jpg", picture, "image/jpeg").run()
    type_areas(app, demo_boxes("overexposed.jpg"))
    press(app, "Compare the two")
    assert not app.exception
    assert app.header[0].value == "Photograph"
    (error,) = app.error
    assert "clipped" in error.value or "overexposed" in error.value


@pytest.mark.usefixtures("logbook_file")
def test_areas_that_overlap_are_refused_in_one_sentence() -> None:
    app = press(open_app(), "Put it on the bench")
    type_areas(app, demo_boxes("scene-1.jpg"))
    type_areas(app, {"Repair": demo_boxes("scene-1.jpg")["Original"]})
    press(app, "Compare the two")
    assert not app.exception
    (error,) = app.error
    assert "Original" in error.value
    assert "Repair" in error.value


@pytest.mark.usefixtures("logbook_file")
def test_a_piece_without_a_name_is_one_sentence() -> None:
    app = press(open_app(), "Add this piece")
    assert not app.exception
    assert len(app.error) == 1
    assert "name" in app.error[0].value


def test_the_demonstration_says_that_it_is_invented(logbook_file: Path) -> None:
    app = press(open_app(), "Put it on the bench")
    assert not app.exception
    assert app.header[0].value == "Photograph"
    visit(app, "Logbook")
    assert all("invented" in told for told in rows(app).values())
    with open_logbook(logbook_file) as logbook:
        assert logbook.piece(PIECE.name).invented
        count = len(logbook.trials())
    assert f"{count} of {count}, the newest first" in said(app)


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_trials_are_found_by_layer_and_by_piece() -> None:
    app = visit(press(open_app(), "Put it on the bench"), "Logbook")
    (words,) = (field for field in app.text_input if field.label == "Search by words")
    words.set_value("umber").run()
    found = list(rows(app).values())
    assert found
    assert all("umber" in told for told in found)
    words.set_value("bracket F").run()
    assert {"bracket F" in told for told in rows(app).values()} == {True}


@pytest.mark.usefixtures("logbook_file")
def test_a_photograph_is_marked_by_numbers_compared_and_taken_up_another_day() -> None:
    app = press(open_app(), "Put it on the bench")
    assert not app.exception
    type_areas(app, demo_boxes("scene-1.jpg"))
    press(app, "Compare the two")
    assert not app.exception
    assert app.header[0].value == "Compare"
    assert "CIEDE2000" in said(app)
    press(app, "Keep it and plan")
    assert not app.exception
    assert any(s.value.startswith("Plan 1") for s in app.subheader)
    assert "60 of them invented" in said(app)
    assert f"On the bench: {PIECE.name}" in said(app)
    difference = ruler(app)

    another_day = open_app()
    open_piece(another_day, PIECE.name)
    visit(another_day, "Plan")
    assert not another_day.exception
    assert ruler(another_day) == difference


def _cards(app: AppTest) -> str:
    (label,) = (as_read(e.label) for e in app.expander if e.label.startswith("Your cards"))
    return label


@pytest.mark.usefixtures("logbook_file")
def test_cards_are_stated_once_and_assumed_until_then(run: Run) -> None:
    app = press(open_app(), "Put it on the bench")
    assert _cards(app) == "Your cards: white, grey and black assumed"
    told = said(app)
    ways = [
        told.index(way) for way in ("raw or DNG", "a white and a black card", "grey card alone")
    ]
    assert ways == sorted(ways)
    (how,) = (r for r in app.radio if r.label == "How is your grey card known?")
    how.set_value("By its measured CIELAB").run()
    (white,) = (n for n in app.number_input if n.label.startswith("White card: reflectance"))
    white.set_value(0.86)
    for label, value in (("L*", 50.5), ("a*", 0.3), ("b*", -0.4)):
        (box,) = (n for n in app.number_input if n.label == label)
        box.set_value(value)
    press(app, "Keep these cards")
    assert not app.exception
    again = open_app_on_photograph()
    assert _cards(again) == "Your cards: black assumed"
    assert "White reflectance 0.86; grey L*a*b* 50.5, 0.3, -0.4; black reflectance 0.04" in said(
        again
    )
    # The command line knows them, and the app what is typed there.
    assert "white card: reflectance 0.86\n" in run("cards").out
    assert run("cards", "--black", "0.05").status == 0
    again = open_app_on_photograph()
    assert _cards(again) == "Your cards: as you said"
    assert "black reflectance 0.05" in said(again)


@pytest.mark.usefixtures("logbook_file")
def test_a_white_card_darker_than_the_grey_is_refused_and_what_was_kept_stays(run: Run) -> None:
    assert run("cards", "--white", "0.86").status == 0
    app = press(open_app(), "Put it on the bench")
    (white,) = (n for n in app.number_input if n.label.startswith("White card: reflectance"))
    white.set_value(0.09)
    press(app, "Keep these cards")
    assert not app.exception
    (error,) = app.error
    assert "each must reflect less than the one before it" in as_read(error.value)
    assert "white card: reflectance 0.86\n" in run("cards").out


def open_app_on_photograph() -> AppTest:
    app = open_app()
    open_piece(app, PIECE.name)
    return visit(app, "Photograph")


@pytest.mark.usefixtures("logbook_file")
def test_a_table_of_trials_is_brought_in_or_refused_whole() -> None:
    app = visit(open_app(), "Logbook")
    header = "layer,strength,before_L,before_a,before_b,after_L,after_a,after_b\n"
    row = "raw umber wash,{},89.5,8.4,35.2,86.0,8.3,33.7\n"
    broken = (header + row.format("0.5") + row.format("0,5 ")).encode()
    for name, data in (("broken.csv", broken), ("latin.csv", (header + "\xe9").encode("latin-1"))):
        app.file_uploader[0].upload(name, data, "text/csv").run()
        for _ in range(2):  # pressed once more it says the same
            press(app, "Bring these in")
            assert not app.exception
            (error,) = app.error
            assert as_read(error.value).startswith(f"{name}, line ")
        assert not rows(app)
    whole = (header + row.format("0.5")).encode()
    app.file_uploader[0].upload("whole.csv", whole, "text/csv").run()
    press(app, "Bring these in")
    assert not app.error
    (told,) = rows(app).values()
    assert "half of the full mix, 1 coat" in told
    assert "invented" not in told


@pytest.mark.usefixtures("logbook_file")
def test_the_record_is_offered_for_the_piece_on_the_bench() -> None:
    app = visit(press(open_app(), "Put it on the bench"), "Record")
    press(app, "Write the record")
    assert not app.exception
    assert not app.error
    assert [b for b in app.get("download_button") if "record" in b.proto.label]


def test_a_logbook_that_cannot_be_written_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(tmp_path)])
    app = open_app()
    assert not app.exception
    assert len(app.error) == 1
    assert str(tmp_path) in said(app)


@pytest.mark.usefixtures("logbook_file")
@pytest.mark.parametrize(
    ("raised", "sentence"),
    [
        (CardError("The card is clipped: photograph it darker."), "The card is clipped"),
        (ZeroDivisionError("division by zero"), bench_page.UNFORESEEN),
    ],
)
def test_whatever_goes_wrong_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, raised: Exception, sentence: str
) -> None:
    def fail(_logbook: Logbook) -> None:
        raise raised

    monkeypatch.setitem(bench_page.PAGES, "Today", fail)
    app = open_app()
    assert not app.exception
    assert [e for e in app.error if sentence in as_read(e.value)]
    assert "division" not in said(app)


def test_the_path_of_the_logbook_comes_after_the_script(monkeypatch: pytest.MonkeyPatch) -> None:
    for words, named in (
        (["--logbook", "a/b.sqlite"], "a/b.sqlite"),
        (["--something-else"], None),
        ([], None),
    ):
        monkeypatch.setattr(sys, "argv", ["app.py", *words])
        assert named_logbook() == named


@pytest.mark.proof
def test_two_photographs_of_the_same_pair_are_compared_together(logbook_file: Path) -> None:
    app = press(open_app(), "Put it on the bench")
    type_areas(app, demo_boxes("scene-1.jpg"))
    press(app, "Compare the two")
    press(app, "Photograph the same pair once more")
    assert "combined with the ones before it" in said(app)
    # Twice the same scene, each with its own file: the second is saved anew.
    with Image.open(swatch_path("demo", "scene-1.jpg")) as picture:
        again = io.BytesIO()
        picture.save(again, "PNG")
    app.file_uploader[0].upload("scene-1 again.png", again.getvalue(), "image/png").run()
    type_areas(app, demo_boxes("scene-1.jpg"))
    press(app, "Compare the two")
    assert not app.exception
    assert "From 2 photographs together" in said(app)
    press(app, "Keep it and plan")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        single, together = logbook.history(PIECE.name).comparisons
        assert len(logbook.history(PIECE.name).photographs) == 2
    assert together.comparison.repair.pixels == 2 * single.comparison.repair.pixels
    assert together.comparison.delta_e == pytest.approx(single.comparison.delta_e, abs=0.2)


@pytest.mark.usefixtures("logbook_file")
def test_an_unknown_coating_sends_to_a_conservator() -> None:
    app = press(open_app(), "Put it on the bench")
    type_areas(app, demo_boxes("scene-1.jpg"))
    press(app, "Compare the two")
    visit(app, "Lay a layer")
    (box,) = (c for c in app.checkbox if c.label.startswith("An old coating"))
    box.check().run()
    assert not app.exception
    assert "conservator" in said(app)


def test_a_page_loaded_anew_is_the_same_page_with_the_same_piece(logbook_file: Path) -> None:
    with open_logbook(logbook_file) as logbook:
        logbook.add_piece(PIECE)
    app = open_app()
    visit(open_piece(app, PIECE.name), "Logbook")
    assert app.query_params == {"room": "Logbook", "piece": PIECE.name}
    anew = AppTest.from_file(str(APP), default_timeout=PATIENCE)
    anew.query_params["room"], anew.query_params["piece"] = "Logbook", PIECE.name
    anew.run()
    assert not anew.exception
    assert anew.header[0].value == "Logbook"
    assert f"On the bench: {PIECE.name}" in said(anew)


@pytest.mark.usefixtures("logbook_file")
def test_the_browsers_way_back_leads_to_the_page_before() -> None:
    app = visit(visit(open_app(), "Logbook"), "Shelf")
    app.query_params["room"] = "Logbook"
    app.run()
    assert app.header[0].value == "Logbook"
    app.query_params["room"] = "nowhere"
    app.run()
    assert not app.exception
    assert app.header[0].value == "Today"
