"""The page of all pieces, the bar of steps, and what a reload or another tab finds on the bench."""

import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from tests.cases import in_ci
from tests.cli.commands import Run
from tests.logbook.laying import FORETOLD
from tests.screens.app_pages import (
    APP,
    PATIENCE,
    as_read,
    hand_over,
    open_app,
    open_piece,
    press,
    said,
    type_areas,
    visit,
)
from tonematch.demonstration import PIECE, demo_photograph
from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.measure.core import Comparison, Verdict
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.screens.bench import AS_LEFT, UNFORESEEN
from tonematch.screens.pages.top import SIGNS
from tonematch.screens.sections import kept_pictures
from tonematch.toning.core import Application, Proposal

SCENE = "scene-1.jpg"


@pytest.fixture
def empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr("sys.argv", ["app.py", "--logbook", str(path)])
    return path


def _compared(
    logbook: Logbook, name: str, comparison: Comparison, verdict: Verdict = "no match"
) -> int:
    """A piece with a photograph of the demonstration, compared as said."""
    logbook.add_piece(Piece(name, "water", "burnished"))
    sha256 = logbook.keep_photo(demo_photograph(SCENE).data, SCENE, name)
    sides = [replace(r, photo_sha256=sha256) for r in (comparison.original, comparison.repair)]
    known = replace(comparison, verdict=verdict, original=sides[0], repair=sides[1])
    return logbook.keep_comparison(name, known)


@pytest.fixture(scope="module")
def many(
    tmp_path_factory: pytest.TempPathFactory, comparison: Comparison, proposal: Proposal
) -> Path:
    """A folder with a logbook, made once: a piece at each step."""
    layer = Application(np.array([68.0, 6.0, 40.0]), "raw umber wash", "wash", 0.5)
    folder = tmp_path_factory.mktemp("many")
    with open_logbook(folder / "logbook.sqlite") as logbook:
        logbook.add_piece(Piece("bracket"))
        _compared(logbook, "hall mirror", comparison)
        number = _compared(logbook, "console", comparison)
        logbook.keep_proposal("console", proposal, number)
        for name, hours in (("oval frame", 0.0), ("pier glass", 3.0)):
            number = _compared(logbook, name, comparison)
            logbook.begin_layer(number, layer, FORETOLD, hours)
        _compared(logbook, "cornice", comparison, "match")
        _compared(logbook, "girandole", comparison, "too close to call")
    return folder


@pytest.fixture
def bench_of_many(many: Path, empty: Path) -> Path:
    """A copy of that logbook, which the app opens."""
    shutil.copytree(many, empty.parent, dirs_exist_ok=True)
    return empty


def _load(**address: str) -> AppTest:
    """A page as a browser shows it after a reload, or in another tab."""
    app = AppTest.from_file(str(APP), default_timeout=PATIENCE)
    for name, value in address.items():
        app.query_params[name] = value
    app.run()
    assert not app.exception
    return app


def _stands(app: AppTest) -> dict[str, str]:
    """What the page Today says of each piece."""
    titles = [as_read(element.value) for element in app.subheader]
    return dict(zip(titles, (as_read(m.value) for m in app.markdown), strict=False))


def _steps(app: AppTest) -> str:
    """The bar, each step with its sign."""
    return " ".join(b.label for b in app.button if b.label[:1] in SIGNS.values())


@pytest.mark.usefixtures("bench_of_many")
def test_today_says_where_each_piece_stands_and_what_can_be_done_first() -> None:
    app = open_app()
    assert app.header[0].value == "Today"
    found = _stands(app)
    dries = found.pop("pier glass")
    assert dries.startswith("Raw umber wash drying until ")
    datetime.strptime(dries[-5:], "%H:%M")
    assert list(found.items()) == [
        ("console", "Ready to lay"),
        ("oval frame", "Ready to photograph, raw umber wash is dry"),
        ("hall mirror", "Ready to plan"),
        ("girandole", "Too close to call"),
        ("bracket", "Not yet photographed"),
        ("cornice", "Near enough"),
    ]
    assert len(app.get("image")) == 6  # all but the one without a photograph
    assert _steps(app) == ""


@pytest.mark.usefixtures("bench_of_many")
@pytest.mark.parametrize(
    ("piece", "page", "steps"),
    [
        ("bracket", "Photograph", "● Photograph ○ Compare ○ Plan ○ Lay ○ Record"),
        in_ci("girandole", "Compare", "✓ Photograph ● Compare ○ Plan ○ Lay ○ Record"),
        in_ci("console", "Plan", "✓ Photograph ✓ Compare ✓ Plan ● Lay ○ Record"),
        in_ci("oval frame", "Lay a layer", "✓ Photograph ✓ Compare ✓ Plan ● Lay ○ Record"),
        ("cornice", "Record", "✓ Photograph ✓ Compare ✓ Plan ✓ Lay ● Record"),
    ],
)
def test_a_piece_opens_at_its_next_step_and_the_bar_tells_every_state(
    piece: str, page: str, steps: str
) -> None:
    app = open_piece(open_app(), piece)
    assert not app.exception
    assert app.header[0].value == page
    assert _steps(app) == steps
    assert f"On the bench: {piece}. " in said(app)
    app.button(key="to-Today").click().run()
    assert app.header[0].value == "Today"


@pytest.mark.usefixtures("bench_of_many")
def test_a_photograph_is_opened_once_for_its_small_picture(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    opened: list[str] = []

    def counted(source: bytes, name: str) -> Photo:
        opened.append(name)
        return load_photo(source, name)

    monkeypatch.setattr(kept_pictures, "load_photo", counted)
    st.cache_data.clear()
    for _ in range(2):  # five pieces of one photograph, in two tabs
        visit(open_app(), "Today")
    assert opened == [SCENE]


@pytest.mark.usefixtures("bench_of_many")
def test_the_page_of_all_pieces_is_whole_before_a_photograph_is_opened_for_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delattr(kept_pictures, "load_photo")  # so that opening one ends the page
    app = open_app()
    assert as_read(app.error[0].value) == UNFORESEEN
    assert {"console", "cornice"} <= _stands(app).keys()
    assert "Add a piece" in {fold.label for fold in app.expander}


def test_pieces_are_listed_with_where_they_stand(bench_of_many: Path, run: Run) -> None:
    listed = run("pieces", "list", "--logbook", bench_of_many).out.splitlines()
    assert listed[0].endswith("; not yet photographed")
    assert listed[2].endswith("tolerance CIEDE2000 2; ready to lay")
    assert "raw umber wash drying until " in listed[4]
    assert listed[-1] == "Pieces: 7."


@pytest.mark.usefixtures("empty")
def test_pieces_known_from_trials_alone_are_shown_on_request() -> None:
    app = visit(press(open_app(), "Put it on the bench"), "Today")
    assert list(_stands(app)) == [PIECE.name]
    (toggle,) = app.toggle
    assert toggle.label == "Show the other pieces (8)"
    toggle.set_value(True).run()
    assert list(_stands(app).values())[1:] == ["Known by what was laid on it"] * 8


def _mark(app: AppTest, *roles: str) -> None:
    """Type the areas of the demonstration."""
    type_areas(app, {role.capitalize(): _box(role) for role in roles})
    assert not app.exception


def _box(role: str) -> tuple[int, int, int, int]:
    corners = np.array(demo_photograph(SCENE).areas[role].corners)
    (x, y), (w, h) = corners.min(axis=0), np.ptp(corners, axis=0)
    return int(x), int(y), int(w), int(h)


def _marked(app: AppTest) -> dict[str, tuple[int, ...]]:
    """The boxes that the page holds, by the name of the area."""
    boxes: dict[str, list[int]] = {}
    for number in app.number_input:
        name, comma, side = number.label.partition(", ")
        if comma and side.endswith("(px)") and number.value is not None:
            boxes.setdefault(name, []).append(int(number.value))
    return {name: tuple(box) for name, box in boxes.items()}


def _begin(logbook_file: Path) -> AppTest:
    """A piece with the photograph handed over; its page."""
    with open_logbook(logbook_file) as logbook:
        logbook.add_piece(Piece("hall mirror", "water", "burnished"))
    app = _load(room="Photograph", piece="hall mirror")
    hand_over(app, SCENE)
    return app


def test_a_reload_in_the_middle_of_marking_loses_nothing(empty: Path) -> None:
    app = _begin(empty)
    _mark(app, "card", "original")
    again = _load(room="Photograph", piece="hall mirror")
    assert _marked(again) == {"Card": _box("card"), "Original": _box("original")}
    assert "Photographed, not compared yet." in said(again)
    assert _stands(visit(again, "Today")) == {"hall mirror": "Photographed, not compared yet"}
    press(again, "Go on marking")
    _mark(again, "repair")
    press(again, "Compare the two")
    # Loaded anew before it was kept, the page says so and has the marks still.
    again = _load(room="Compare", piece="hall mirror")
    assert again.header[0].value == "Photograph"
    assert AS_LEFT in said(again)
    press(again, "Compare the two")
    press(again, "Keep it and plan")
    assert again.header[0].value == "Plan"
    # Kept, it is no draft any more, and its picture lies among the photographs alone.
    assert "Ready to lay." in said(_load(room="Photograph", piece="hall mirror"))
    with open_logbook(empty) as logbook:
        assert not logbook.draft("hall mirror").photographs
        assert [p.name[64:] for p in logbook.photographs.rglob("*.jpg")] == [".jpg"]


def test_two_tabs_mark_one_photograph_and_another_piece_beside_it(empty: Path) -> None:
    first = _begin(empty)
    _mark(first, "card")
    second = _load(room="Photograph", piece="hall mirror")
    _mark(second, "original")
    _mark(first, "repair")  # not knowing of the other
    both = {name.capitalize(): _box(name) for name in ("card", "original", "repair")}
    assert _marked(_load(room="Photograph", piece="hall mirror")) == both
    with open_logbook(empty) as logbook:
        logbook.add_piece(Piece("console"))
    open_piece(visit(second, "Today"), "console")
    assert _marked(second) == {}
    # The browser's way back leads to the piece, too.
    second.query_params["room"], second.query_params["piece"] = "Photograph", "hall mirror"
    second.run()
    assert _marked(second) == both


@pytest.mark.proof
def test_marks_changed_after_they_were_kept_are_a_draft_with_their_photograph(empty: Path) -> None:
    app = _begin(empty)
    _mark(app, "card", "original", "repair")
    press(press(app, "Compare the two"), "Keep it and plan")
    visit(app, "Photograph")
    moved = tuple(value + 1 for value in _box("card"))
    label = "Card, left (px)"
    next(n for n in app.number_input if n.label == label).set_value(moved[0]).run()
    again = _load(room="Photograph", piece="hall mirror")
    assert _marked(again)["Card"] == (moved[0], *_box("card")[1:])
    assert _marked(again)["Repair"] == _box("repair")


@pytest.mark.proof
def test_what_is_to_be_laid_outlives_a_reload(empty: Path) -> None:
    app = _begin(empty)
    _mark(app, "card", "original", "repair")
    press(press(app, "Compare the two"), "Keep it and plan")
    visit(app, "Lay a layer")
    (layer,) = (s for s in app.selectbox if s.label == "Layer")
    layer.set_value("dark wax").run()
    again = _load(room="Lay a layer", piece="hall mirror")
    (layer,) = (s for s in again.selectbox if s.label == "Layer")
    assert layer.value == "dark wax"


@pytest.mark.proof
def test_a_reload_while_a_layer_dries_and_is_logged_loses_nothing(empty: Path) -> None:
    app = _begin(empty)
    _mark(app, "card", "original", "repair")
    press(press(app, "Compare the two"), "Keep it and plan")
    press(visit(app, "Lay a layer"), "I have laid it")
    dries = _load(room="Lay a layer", piece="hall mirror")
    assert " drying until " in said(dries)
    hand_over(dries, SCENE)
    _mark(dries, "card", "repair")
    again = _load(room="Lay a layer", piece="hall mirror")
    assert _marked(again) == {"Card": _box("card"), "Repair": _box("repair")}
    _mark(again, "original")
    press(again, "Log this layer")
    assert again.header[0].value == "Plan"
    with open_logbook(empty) as logbook:
        assert len(logbook.trials()) == 1
        assert not logbook.draft("hall mirror").photographs


def test_a_draft_that_cannot_be_written_is_said_and_stops_nothing(
    empty: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = _begin(empty)

    def full(*_: object, **__: object) -> None:
        raise LogbookError("The disk is full: free some space.")

    monkeypatch.setattr(Logbook, "keep_draft", full)
    _mark(app, "card", "original", "repair")
    assert "would not outlive a reload. The disk is full" in said(app)
    assert press(app, "Compare the two").header[0].value == "Compare"
