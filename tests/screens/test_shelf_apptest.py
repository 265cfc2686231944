"""The shelf page: adding, changing, renaming, marking and retiring layers, and what each does."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from streamlit.dataframe_util import convert_arrow_bytes_to_pandas_df
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import as_read, open_app, press, said, visit
from tonematch.errors import ShelfError
from tonematch.logbook.store import open_logbook
from tonematch.screens.asking.layer_form import numbers_in
from tonematch.toning.core import Application, Trial

SHIPPED = "raw umber wash"
TEA = "weak tea wash"


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    return path


def _shelf() -> AppTest:
    return visit(open_app(), "Shelf")


def _choose(app: AppTest, name: str) -> AppTest:
    (chooser,) = (s for s in app.selectbox if s.label == "Layer")
    return chooser.set_value(name).run()


def _shown(app: AppTest) -> str:
    (chooser,) = (s for s in app.selectbox if s.label == "Layer")
    return str(chooser.value)


def _new_layer(app: AppTest, name: str) -> AppTest:
    # The form of the chosen layer comes first, that of a new one after it.
    [t for t in app.text_input if t.label == "Name of the layer"][1].set_value(name)
    (like,) = (s for s in app.selectbox if s.label == "Acts about like")
    return like.set_value(SHIPPED).run()


def _first_look(app: AppTest) -> str:
    """The swatches of a new layer, which come last."""
    bodies: list[str] = [element.proto.body for element in app.get("html")]
    return [body for body in bodies if "tm-swatches" in body[:30]][-1]


@pytest.mark.usefixtures("logbook_file")
def test_curves_are_drawn_and_told_apart_by_their_dashes() -> None:
    charts = _shelf().get("vega_lite_chart")
    assert len(charts) == 2
    for chart in charts:
        points = convert_arrow_bytes_to_pandas_df(chart.proto.data.data)
        assert set(points["How it is known"]) == {"As learned", "First guess"}
        assert points["CIEDE2000"].max() > 1.0
        spec = json.loads(chart.proto.spec)
        assert spec["encoding"]["strokeDash"]["field"] == "How it is known"


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_no_choice_is_lost_by_the_next_one_nor_by_another_page() -> None:
    app = _shelf()
    for name in ("dark wax", "rottenstone dust", "fly-specks"):
        assert _shown(_choose(app, name)) == name
    assert _shown(visit(visit(app, "Logbook"), "Shelf")) == "fly-specks"


def test_a_layer_is_added_and_shown(logbook_file: Path) -> None:
    app = press(_new_layer(_shelf(), "Weak  Tea wash"), "Put it on the shelf")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        (tea,) = logbook.own_layers()
        like = logbook.shelf()[SHIPPED]
        assert tea.name == TEA
        assert (tea.absorption, tea.drying_hours) == (like.absorption, like.drying_hours)
    assert f"{TEA} is on your shelf" in said(app)
    (chooser,) = (s for s in app.selectbox if s.label == "Layer")
    assert chooser.value == TEA


@pytest.mark.proof
def test_what_a_new_layer_does_is_seen_before_it_is_kept(logbook_file: Path) -> None:
    """Its swatches change with what it is like; in another binder it comes off by another way."""
    shown = _first_look(_shelf())
    app = _new_layer(_shelf(), TEA)
    assert _first_look(app) != shown
    binder = [s for s in app.selectbox if s.label == "Binder"][-1]
    with open_logbook(logbook_file) as logbook:
        assert binder.value == logbook.shelf()[SHIPPED].binder
        assert logbook.own_layers() == []
        press(binder.set_value("shellac").run(), "Put it on the shelf")
        (tea,) = logbook.own_layers()
        assert (tea.binder, tea.reversible, tea.taken_back_by) == ("shellac", "unknown", "")


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_a_layer_without_a_name_is_one_sentence() -> None:
    app = press(_new_layer(_shelf(), " "), "Put it on the shelf")
    assert not app.exception
    (error,) = app.error
    assert as_read(error.value) == "Give the layer a name."
    assert "Raw umber wash is on the shelf already" in said(_new_layer(app, "Raw umbre wash"))


@pytest.mark.usefixtures("logbook_file")
@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("Strengths", "a lot", "The strengths 'a lot'"),
        ("Strengths", "0", "strengths: (0.0,) is not"),
        ("The full mix", "some tea", "some tea"),
    ],
)
def test_what_cannot_be_said_of_a_layer_is_named(field: str, typed: str, words: str) -> None:
    app = _choose(_shelf(), SHIPPED)
    next(t for t in app.text_input if t.label.startswith(field)).set_value(typed)
    app = press(app, "Keep the changes")
    assert not app.exception
    (error,) = app.error
    assert words in as_read(error.value)


@pytest.mark.usefixtures("logbook_file")
def test_the_buttons_of_a_layer_come_before_its_curves() -> None:
    shown = [element.type for element in _choose(_shelf(), SHIPPED).main]
    assert shown.index("button") < shown.index("vega_lite_chart")


@pytest.mark.proof
def test_a_shipped_layer_is_marked_not_at_hand_and_back(logbook_file: Path) -> None:
    app = press(_choose(_shelf(), SHIPPED), "Mark as not at hand")
    assert "no longer at hand" in said(app)
    assert "plans leave it out" in said(app)
    with open_logbook(logbook_file) as logbook:
        assert not logbook.shelf()[SHIPPED].at_hand
    press(app, "Mark as at hand")
    press(app, "Back to the entry that came with tonematch")
    press(app, "Mark as not at hand")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        assert not logbook.shelf()[SHIPPED].at_hand


@pytest.mark.proof
def test_trials_follow_a_layer_that_is_renamed_and_it_can_be_retired(logbook_file: Path) -> None:
    laid = Application(np.array([88.0, 6.0, 35.0]), TEA, "wash", 0.5)
    with open_logbook(logbook_file) as logbook:
        logbook.add_trials([Trial(laid, np.array([80.0, 7.0, 33.0]))])
    app = _choose(_shelf(), TEA)
    assert "Laid and read once" in said(app)
    next(t for t in app.text_input if t.label == "Name of the layer").set_value("black tea")
    press(app, "Keep the changes")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        assert [trial.application.layer for trial in logbook.trials()] == ["black tea"]
    press(app, "Take it off the shelf")
    with open_logbook(logbook_file) as logbook:
        assert logbook.own_layers() == []
    press(app, "Put it back on the shelf")
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        assert [layer.name for layer in logbook.own_layers()] == ["black tea"]


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_a_layer_shows_what_was_learned_beside_the_first_guess() -> None:
    app = visit(press(open_app(), "Put it on the bench"), "Shelf")
    _choose(app, SHIPPED)
    assert not app.exception
    told = said(app)
    assert "Laid and read " in told
    assert "from one day to the next" in told
    assert [s.value for s in app.subheader] == ["On new gold", "On toned gold"]
    assert "No trial of it has a lustre yet. First guess: its own lustre is 1.0 stops" in told
    # A caution that comes from the rules, not from the layer's own entry.
    assert "umber" in told.lower()


def test_strengths_are_read_however_they_are_parted() -> None:
    assert numbers_in("0.25, 0.5;1 2") == [0.25, 0.5, 1.0, 2.0]
    with pytest.raises(ShelfError, match="half"):
        numbers_in("half, 1")
