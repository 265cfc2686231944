"""The trials page: mistyped trials by name, put right or left out, and taken back by one button."""

import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.screens.app_pages import open_app, press, said, visit
from tonematch.logbook.store import open_logbook
from tonematch.logbook.stores.corrections import typed_values
from tonematch.logbook.trial_csv import read_trials
from tonematch.screens.sections import doubts
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import load_shelf

MISTYPED = 2  # counted from 1


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


def test_a_mistyped_trial_is_named_left_out_and_taken_in_again(logbook_file: Path) -> None:
    app = visit(open_app(), "Logbook")
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
    app = visit(open_app(), "Logbook")
    (chooser,) = (s for s in app.selectbox if s.label == "Trial")
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


def _says(path: Path) -> dict[str, object]:
    with open_logbook(path) as logbook:
        return typed_values(logbook.kept_trials()[MISTYPED - 1].trial)


def test_a_swapped_trial_is_put_right_as_proposed_and_put_back(logbook_file: Path) -> None:
    wrong, right = _says(logbook_file), typed_values(_demo_trials()[MISTYPED - 1])
    app = visit(open_app(), "Logbook")
    press(app, f"Put trial {MISTYPED} right")
    assert not app.exception
    (lightness,) = (n for n in app.number_input if n.label == "L* before")
    assert lightness.value == pytest.approx(right["before_L"])
    press(app, f"Keep trial {MISTYPED} like this")
    assert not app.exception
    assert not app.error
    assert _says(logbook_file) == right
    assert f"**Trial {MISTYPED}**:" not in said(app)
    assert "Put right: 1" in [e.label for e in app.expander]

    press(app, f"Put trial {MISTYPED} back as it was")
    assert not app.exception
    assert _says(logbook_file) == wrong
    assert f"**Trial {MISTYPED}**:" in said(app)


def test_a_doubt_may_be_left_as_it_is(logbook_file: Path) -> None:
    wrong = _says(logbook_file)
    app = press(visit(open_app(), "Logbook"), f"Put trial {MISTYPED} right")
    press(app, "Leave it as it is")
    assert not app.exception
    assert _says(logbook_file) == wrong
    assert f"Put trial {MISTYPED} right" in [b.label for b in app.button]


def test_any_trial_can_be_put_right_and_its_rules_are_judged_anew(logbook_file: Path) -> None:
    app = visit(open_app(), "Logbook")
    (chooser,) = (s for s in app.selectbox if s.label == "Trial")
    chooser.set_value(1).run()
    (layer,) = (s for s in app.selectbox if s.label == "Layer")
    layer.set_value("raw sienna wash")
    (strength,) = (n for n in app.number_input if n.label.startswith("Strength"))
    strength.set_value(0.3)
    press(app, "Keep trial 1 like this")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        kept = logbook.kept_trials()[0]
    assert kept.trial.application.layer == "raw sienna wash"
    assert kept.trial.application.kind == "wash"
    assert kept.trial.application.strength == 0.3
    # Bare water gilding must be sealed before anything water-borne (common practice, no source).
    assert any("seal it first" in sentence for sentence in kept.cautions)


def test_a_lustre_is_put_right_where_there_is_one(logbook_file: Path) -> None:
    with open_logbook(logbook_file) as logbook:
        trial = logbook.trials()[0]
        number = logbook.add_trial(replace(trial, step=9, before_lustre=0.24))
    app = visit(open_app(), "Logbook")
    (chooser,) = (s for s in app.selectbox if s.label == "Trial")
    chooser.set_value(number).run()
    (lustre,) = (n for n in app.number_input if n.label.startswith("Lustre"))
    lustre.set_value(2.4)
    press(app, f"Keep trial {number} like this")
    assert not app.exception
    with open_logbook(logbook_file) as logbook:
        assert logbook.kept_trials()[-1].trial.before_lustre == 2.4
    assert "lustre before 0.24 stops" in said(app)


@pytest.mark.usefixtures("logbook_file")
def test_nothing_changed_is_said_in_one_sentence() -> None:
    app = visit(open_app(), "Logbook")
    (chooser,) = (s for s in app.selectbox if s.label == "Trial")
    chooser.set_value(3).run()
    press(app, "Keep trial 3 like this")
    assert not app.exception
    (told,) = app.error
    assert "reads so already" in told.value


def test_in_a_long_logbook_doubts_are_looked_for_when_asked(
    logbook_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(doubts, "MANY_TRIALS", 10)
    app = visit(open_app(), "Logbook")
    assert f"**Trial {MISTYPED}**:" not in said(app)
    press(app, "Look for mistyped trials")
    assert f"**Trial {MISTYPED}**:" in said(app)
    press(app, f"Put trial {MISTYPED} right")
    press(app, f"Keep trial {MISTYPED} like this")
    assert not app.exception
    assert f"**Trial {MISTYPED}**:" not in said(app)
    assert _says(logbook_file) == typed_values(_demo_trials()[MISTYPED - 1])
