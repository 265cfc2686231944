"""The trials page: mistyped trials by name and row, left out and taken in again by one button."""

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from app_pages import open_app, press, said, visit

from tonematch.logbook.store import open_logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.swatchbook import swatch_path
from tonematch.toning.shelf import load_shelf

MISTYPED = 2  # counted from 1


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    trials = read_trials(swatch_path("demo", "trials.csv"), load_shelf())
    right = trials[MISTYPED - 1]
    laid = replace(right.application, before=right.after)
    trials[MISTYPED - 1] = replace(right, application=laid, after=right.application.before)
    with open_logbook(path) as logbook:
        logbook.add_trials(trials)
    return path


def test_a_mistyped_trial_is_named_left_out_and_taken_in_again(logbook_file: Path) -> None:
    app = visit(open_app(), "Trials")
    assert not app.exception
    assert f"**Trial {MISTYPED}**" in said(app)
    assert "before and after look swapped" in said(app)

    press(app, f"Leave trial {MISTYPED} out")
    assert not app.exception
    with open_logbook(logbook_file) as logbook:
        assert [k.id for k in logbook.kept_trials() if k.excluded] == [MISTYPED]
    assert f"**Trial {MISTYPED}**" not in said(app)

    press(app, f"Learn from trial {MISTYPED} again")
    with open_logbook(logbook_file) as logbook:
        assert not any(k.excluded for k in logbook.kept_trials())
        assert len(logbook.trials()) == len(logbook.kept_trials())
    assert f"**Trial {MISTYPED}**" in said(app)


def test_any_trial_can_be_left_out_with_a_reason(logbook_file: Path) -> None:
    app = visit(open_app(), "Trials")
    (chooser,) = (s for s in app.selectbox if s.label == "Leave out a trial")
    chooser.set_value(3).run()
    (why,) = (t for t in app.text_input if t.label == "Why")
    why.set_value("wrong pot").run()
    press(app, "Leave it out")
    assert not app.exception
    with open_logbook(logbook_file) as logbook:
        (out,) = (k for k in logbook.kept_trials() if k.excluded)
        changes = logbook.history(out.trial.piece).changes
    assert out.id == 3
    assert [(change.words, change.reason) for change in changes] == [("excluded", "wrong pot")]
