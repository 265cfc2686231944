"""The logbook page: what was laid that looked like this, by one press or by what is typed."""

import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import as_read, open_app, open_piece, press, rows, said, visit
from tonematch.logbook.core import Piece
from tonematch.logbook.store import open_logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.core import Comparison
from tonematch.swatchbook import swatch_path
from tonematch.toning.layers.shelf import load_shelf

PRESS = "Like the original on my bench"
TRIALS = read_trials(swatch_path("demo", "trials.csv"), load_shelf())
GOLD = np.array([74.0, 6.0, 31.0])


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    with open_logbook(path) as logbook:
        logbook.add_trials(TRIALS)
    return path


def shown(app: AppTest) -> list[int]:
    return list(rows(app))


def type_colour(app: AppTest, *lab: float) -> AppTest:
    for axis, value in zip(("L*", "a*", "b*"), lab, strict=False):
        (field,) = (n for n in app.number_input if n.key == f"like-{axis}")
        field.set_value(value)
    return app.run()


@pytest.mark.proof
def test_the_original_on_the_bench_is_looked_for_in_one_press(
    logbook_file: Path, comparison: Comparison
) -> None:
    assert PRESS not in [as_read(b.label) for b in visit(open_app(), "Logbook").button]
    old = replace(comparison, original=replace(comparison.original, lab=GOLD))
    with open_logbook(logbook_file) as logbook:
        logbook.add_piece(Piece("hall mirror"))
        logbook.keep_comparison("hall mirror", old)
    app = press(visit(open_piece(open_app(), "hall mirror"), "Logbook"), PRESS)
    away = np.asarray(colour.delta_E(GOLD, np.array([t.after for t in TRIALS]), method="CIE 2000"))
    near = np.argsort(away)[: min(20, np.sum(away <= 5))]
    assert shown(app) == (near + 1).tolist()
    # The first part of the ruler ends at 0.8 (Paravina et al. 2015), the second at 1.8.
    told = rows(app)[int(near[0]) + 1]
    assert ("nobody can tell" in told) == (away[near[0]] <= 0.8)
    assert f"{np.sum(away <= 5)} of 60, the nearest first" in said(app)


@pytest.mark.usefixtures("logbook_file")
def test_words_layer_piece_gilding_and_day_are_searched_together() -> None:
    app = visit(open_app(), "Logbook")
    assert shown(app) == list(range(60, 40, -1))
    fields = {field.label: field for field in app.selectbox}
    dark = [n for n, t in enumerate(TRIALS, 1) if t.application.layer == "dark wax"]
    fields["Layer that was laid"].set_value("dark wax")
    assert shown(app.run()) == dark[::-1]
    day = date.fromisoformat(TRIALS[dark[1] - 1].date)
    app.date_input[0].set_value(day)
    since = [n for n in dark if date.fromisoformat(TRIALS[n - 1].date) >= day]
    assert shown(app.run()) == since[::-1] != dark[::-1]
    (words,) = (t for t in app.text_input if t.label == "Search by words")
    words.set_value("no such thing").run()
    assert shown(app) == []
    assert "Nothing is like that" in said(app)
    words.set_value("raw umbre wsh").run()
    assert "Nothing is called raw umbre wsh: did you mean raw umber wash?" in said(app)


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_half_a_colour_and_nothing_near_are_said() -> None:
    app = type_colour(visit(open_app(), "Logbook"), 30.0)
    assert "give L*, a* and b*" in said(app)
    assert "60 of 60" in said(app)
    type_colour(app, 30.0, 20.0, -60.0)
    assert "Nothing that you laid looked like this" in said(app)
    assert len(shown(app)) == 1
