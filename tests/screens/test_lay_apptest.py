"""The page where a layer is laid: it dries over reloads, and two tabs lay one layer."""

import json
import shutil
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import (
    APP,
    PATIENCE,
    demo_boxes,
    hand_over,
    press,
    said,
    type_areas,
    visit,
)
from tonematch.cli.commands import run as command_line
from tonematch.logbook.store import open_logbook
from tonematch.measure.core import Comparison
from tonematch.screens.pages.lay_page import BEHIND
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Trial

AFTER = "scene-2-after-1.jpg"


def load(piece: str) -> AppTest:
    """The page as a browser shows it after a reload, or in another tab."""
    app = AppTest.from_file(str(APP), default_timeout=PATIENCE)
    app.query_params["room"], app.query_params["piece"] = "Lay a layer", piece
    return app.run()


def _photograph_after(app: AppTest) -> None:
    boxes = demo_boxes(AFTER)
    small = (*boxes["Repair"][:2], 15, 15)  # so small that it is warned about
    type_areas(hand_over(app, AFTER), boxes | {"Repair": small})


def _choose(app: AppTest, layer: str, strength: float) -> None:
    next(s for s in app.selectbox if s.label == "Layer").set_value(layer).run()
    next(n for n in app.number_input if n.label == "How much of the full mix").set_value(
        strength
    ).run()


def _air(app: AppTest) -> Any:
    return next(fold for fold in app.expander if fold.label == "The air of the workshop")


def _titles(app: AppTest) -> str:
    return "\n".join(element.value for element in app.subheader)


def test_the_layer_that_was_laid_is_logged_after_a_reload_and_only_once(logbook_file: Path) -> None:
    app = load("hall mirror")
    kinds = [element.type for element in app.main]
    assert kinds.index("html") < kinds.index("expander")  # the golds come first
    _choose(app, "raw umber wash", 0.75)
    assert _air(app).proto.expanded
    for label, number in (("Temperature", 12.0), ("Relative humidity", 60.0)):
        next(n for n in app.number_input if n.label.startswith(label)).set_value(number).run()
    assert _air(app).proto.expanded  # until it was laid
    press(app, "I have laid it")
    reloaded, other = load("hall mirror"), load("hall mirror")
    for tab in (app, reloaded, other):
        assert not tab.exception
        assert "Raw umber wash laid on " in _titles(tab)
        assert "dry from " in _titles(tab)
        assert "Let it dry" in said(tab)
        assert "Comes off: " in said(tab)
        assert any(fold.label.startswith("Mind through the whole job") for fold in tab.expander)
    _photograph_after(reloaded)
    next(one for one in reloaded.text_input if one.label == "Note").set_value("streaks").run()
    reloaded = load("hall mirror")
    press(reloaded, "Log this layer")
    assert "Logged: raw umber wash" in said(reloaded)
    warning = reloaded.warning[0]
    assert "225 pixels only" in warning.value
    for late in (press(app, "Not laid after all"), visit(other, "Lay a layer")):
        assert not late.exception
        assert BEHIND in said(late)
        assert "laid on" not in _titles(late)
    with open_logbook(logbook_file) as logbook:
        (kept,) = logbook.kept_trials("hall mirror")
        assert len(logbook.history("hall mirror").comparisons) == 2
        assert len(logbook.history("hall mirror").photographs) == 1
    laid = kept.trial.application
    assert kept.trial.note == "streaks"
    assert (laid.layer, laid.strength) == ("raw umber wash", 0.75)
    assert (kept.trial.temperature, kept.trial.humidity) == (12.0, 60.0)
    again = load("hall mirror")  # said once a day, and offered from then on
    assert not _air(again).proto.expanded
    assert next(n for n in again.number_input if n.label.startswith("Temp")).value == 12.0


def _blotched(by: float) -> bytes:
    """That photograph with its repair toned further, in patches lighter and darker by so much."""
    picture = np.asarray(Image.open(swatch_path("demo", AFTER))).astype(float)
    x, y, width, height = map(round, demo_boxes(AFTER)["Repair"])
    patches = np.random.default_rng(2).uniform(-by, by, (height // 60 + 1, width // 60 + 1, 1))
    patches = np.kron(patches - patches.mean(), np.ones((60, 60, 1)))[:height, :width]
    picture[y : y + height, x : x + width] *= (1.0 + patches) * np.array([0.73, 0.72, 0.53])
    file = BytesIO()
    Image.fromarray(picture.round().astype(np.uint8)).save(file, "JPEG", quality=95)
    return file.getvalue()


@pytest.mark.proof
def test_a_layer_that_was_read_poorly_teaches_less(
    compared: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Logged in the app from an even repair, and from a blotched one: what `predict` then says."""
    spreads = []
    for by in (0.0, 0.25):
        path = Path(shutil.copy(compared, tmp_path / f"{by}.sqlite"))
        monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
        app = load("hall mirror")
        _choose(app, "raw umber glaze", 0.5)
        press(app, "I have laid it")
        app.file_uploader[0].upload(AFTER, _blotched(by), "image/jpeg").run()
        press(type_areas(app, demo_boxes(AFTER)), "Log this layer")
        assert "Logged: raw umber glaze" in said(app)
        capsys.readouterr()
        asked = ["--from", "68,6,40", "--layer", "raw umber glaze:0.5", "--logbook", str(path)]
        assert command_line(["predict", *asked, "--json"]) == 0
        (step,) = json.loads(capsys.readouterr().out)["steps"]
        spreads.append(float(np.trace(step["covariance"])))
    even, blotched = spreads
    assert blotched > 1.3 * even


@pytest.mark.proof
def test_two_tabs_lay_one_layer(logbook_file: Path) -> None:
    one, other = load("hall mirror"), load("hall mirror")
    _choose(one, "raw umber wash", 0.5)
    _choose(other, "rottenstone dust", 1.0)
    press(one, "I have laid it")
    press(other, "I have laid it")
    assert not other.exception
    assert BEHIND in said(other)
    assert "Raw umber wash laid on " in _titles(other)
    with open_logbook(logbook_file) as logbook:
        laid = logbook.layer_in_progress("hall mirror")
    assert laid is not None
    assert laid.application.layer == "raw umber wash"


def test_a_page_whose_comparison_is_no_longer_the_last_lays_nothing(
    logbook_file: Path, comparison: Comparison
) -> None:
    stale = load("hall mirror")
    with open_logbook(logbook_file) as logbook:
        logbook.keep_comparison("hall mirror", comparison)
    press(stale, "I have laid it")
    assert BEHIND in said(stale)
    with open_logbook(logbook_file) as logbook:
        assert logbook.layer_in_progress("hall mirror") is None
    press(stale, "I have laid it")
    assert BEHIND not in said(stale)
    with open_logbook(logbook_file) as logbook:
        assert logbook.layer_in_progress("hall mirror") is not None


def test_a_layer_is_called_off_and_every_page_tells_of_it_until_then(logbook_file: Path) -> None:
    app = press(load("hall mirror"), "I have laid it")
    visit(app, "Logbook")
    assert "On the bench: hall mirror. " in said(app)
    assert " drying until " in said(app)
    press(visit(app, "Lay a layer"), "Not laid after all")
    assert "Called off" in said(app)
    assert [b for b in app.button if b.label == "I have laid it"]
    with open_logbook(logbook_file) as logbook:
        assert logbook.layer_in_progress("hall mirror") is None
        assert logbook.trials() == []


@pytest.mark.proof
def test_what_lies_on_top_is_taken_back_from_the_page(logbook_file: Path, trial: Trial) -> None:
    umber = replace(trial.application, layer="raw umber wash", kind="wash")
    with open_logbook(logbook_file) as logbook:
        logbook.add_trial(replace(trial, application=umber, piece="hall mirror"))
    app = load("hall mirror")
    (layer,) = (s for s in app.selectbox if s.label == "Layer")
    assert "raw umber wash, taken back (lift)" in layer.options
    _choose(app, "raw umber wash, taken back", 1.0)
    assert not app.exception
    press(app, "I have laid it")
    with open_logbook(logbook_file) as logbook:
        laid = logbook.layer_in_progress("hall mirror")
    assert laid is not None
    assert (laid.application.layer, laid.application.kind) == ("raw umber wash, taken back", "lift")
    # It leads to what was read before the wash, not farther into the dark.
    L = laid.prediction.lab[0]
    assert abs(L - umber.before[0]) < abs(L - laid.application.before[0])
    reloaded = load("hall mirror")
    _photograph_after(reloaded)
    press(reloaded, "Log this layer")
    assert not reloaded.exception
    assert "Logged: raw umber wash, taken back" in said(reloaded)
