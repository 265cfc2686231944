"""The logbook page: slips pointed out in their rows, put right or left out, and taken back."""

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import open_app, press, rows, said, visit
from tonematch.logbook.store import open_logbook
from tonematch.logbook.stores.corrections import typed_values
from tonematch.logbook.trial_csv import read_trials
from tonematch.screens.sections import laid_rows
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import load_shelf

MISTYPED = 42  # counted from 1; on the first page
PUT_IT_RIGHT = f"Keep No. {MISTYPED} like this"


def _demo_trials() -> list[Trial]:
    return read_trials(swatch_path("demo", "trials.csv"), load_shelf())


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    trials = _demo_trials()
    right = trials[MISTYPED - 1]
    laid = replace(right.application, before=right.after)
    trials[MISTYPED - 1] = replace(right, application=laid, after=right.application.before)
    with open_logbook(path) as logbook:
        logbook.add_trials(trials)
    return path


def shown(which: str, app: AppTest | None = None) -> AppTest:
    """The logbook page with some of its rows."""
    app = visit(open_app(), "Logbook") if app is None else app
    app.session_state["which"] = which
    return app.run()


@pytest.mark.proof
def test_a_slip_is_pointed_out_in_its_row_left_out_and_taken_in_again(logbook_file: Path) -> None:
    app = visit(open_app(), "Logbook")
    assert "Before and after look swapped" in rows(app)[MISTYPED]
    assert [n for n, told in rows(app).items() if "Mistyped?" in told] == [MISTYPED]
    (line,) = [words for words in said(app).splitlines() if " the newest first." in words]
    assert line.endswith("1 looks mistyped.")
    assert "No row here was put right." in said(shown("put right", app))
    assert list(rows(shown("looks mistyped", app))) == [MISTYPED]

    press(press(app, f"Open {MISTYPED}"), "Leave it out")
    with open_logbook(logbook_file) as logbook:
        (out,) = (k for k in logbook.kept_trials() if k.excluded)
        changes = logbook.history(out.trial.piece).changes
    assert out.id == MISTYPED
    assert [c.reason for c in changes] == ["looked mistyped: before and after look swapped"]
    assert list(rows(shown("left out", app))) == [MISTYPED]
    assert "left out" in rows(app)[MISTYPED]

    press(app, "Learn from it again")
    with open_logbook(logbook_file) as logbook:
        assert not any(k.excluded for k in logbook.kept_trials())
    assert "Mistyped?" in rows(shown("all", app))[MISTYPED]


def _says(path: Path) -> dict[str, object]:
    with open_logbook(path) as logbook:
        return typed_values(logbook.kept_trials()[MISTYPED - 1].trial)


def test_a_swapped_row_is_put_right_as_proposed_and_put_back(logbook_file: Path) -> None:
    wrong, right = _says(logbook_file), typed_values(_demo_trials()[MISTYPED - 1])
    app = press(visit(open_app(), "Logbook"), f"Open {MISTYPED}")
    (lightness,) = (n for n in app.number_input if n.label == "L* before")
    assert lightness.value == pytest.approx(right["before_L"])
    press(app, PUT_IT_RIGHT)
    assert not app.exception
    assert not app.error
    assert _says(logbook_file) == right
    assert "Mistyped?" not in rows(app)[MISTYPED]
    assert list(rows(shown("put right", app))) == [MISTYPED]

    press(app, "Put it back as it was")
    assert _says(logbook_file) == wrong
    assert "Mistyped?" in rows(shown("all", app))[MISTYPED]


@pytest.mark.proof
def test_any_row_can_be_put_right_and_its_rules_are_judged_anew(logbook_file: Path) -> None:
    app = visit(open_app(), "Logbook")
    (words,) = (t for t in app.text_input if t.label == "Search by words")
    words.set_value("overmantel A").run()
    press(app, "Open 1")
    (layer,) = (s for s in app.selectbox if s.label == "Layer")
    layer.set_value("raw sienna wash")
    (strength,) = (n for n in app.number_input if n.label == "How much of the full mix")
    strength.set_value(0.3)
    press(app, "Keep No. 1 like this")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        kept = logbook.kept_trials()[0]
    assert kept.trial.application.layer == "raw sienna wash"
    assert kept.trial.application.kind == "wash"
    assert kept.trial.application.strength == 0.3
    # Bare water gilding must be sealed before anything water-borne (common practice, no source).
    assert any("seal it first" in sentence for sentence in kept.cautions)


@pytest.mark.proof
def test_a_lustre_is_put_right_where_there_is_one(logbook_file: Path) -> None:
    with open_logbook(logbook_file) as logbook:
        trial = logbook.trials()[0]
        number = logbook.add_trial(replace(trial, step=9, before_lustre=0.24))
    app = press(visit(open_app(), "Logbook"), f"Open {number}")
    (lustre,) = (n for n in app.number_input if n.label.startswith("Lustre"))
    lustre.set_value(2.4)
    press(app, f"Keep No. {number} like this")
    assert not app.exception
    with open_logbook(logbook_file) as logbook:
        assert logbook.kept_trials()[-1].trial.before_lustre == 2.4
    assert "lustre before 0.24 stops" in said(app)


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_nothing_changed_is_said_in_one_sentence() -> None:
    app = press(visit(open_app(), "Logbook"), "Open 50")
    press(app, "Keep No. 50 like this")
    assert not app.exception
    (told,) = app.error
    assert "reads so already" in told.value


def test_in_a_long_logbook_slips_are_looked_for_when_asked(
    logbook_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(laid_rows, "MANY_TRIALS", 10)
    app = visit(open_app(), "Logbook")
    assert "Mistyped?" not in rows(app)[MISTYPED]
    assert "Mistyped?" in rows(shown("looks mistyped", app))[MISTYPED]
    press(press(app, f"Open {MISTYPED}"), PUT_IT_RIGHT)
    assert not app.exception
    assert rows(app) == {}
    assert _says(logbook_file) == typed_values(_demo_trials()[MISTYPED - 1])
