"""What the tests of more than one room need. All values are invented."""

import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs
import pytest
from hypothesis import settings

from tests.cli.commands import Ran, Run
from tonematch.cli import main
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.core import Area, Calibration, CardValue, Comparison, Reading
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import (
    Application,
    Layer,
    Plan,
    Prediction,
    Proposal,
    Step,
    Trial,
)
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model import layer_model
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import LayerModel, fit_trials

# A newcomer meets the same few cases every time; CI searches (--hypothesis-profile=search), and
# what it finds becomes a fixed case beside the test.
settings.register_profile(
    "newcomer", derandomize=True, max_examples=20, database=None, deadline=None
)
settings.register_profile(
    "search", derandomize=False, max_examples=400, database=None, deadline=None, print_blob=True
)
settings.load_profile("newcomer")

# The workers share the cores already: one thread each for linear algebra.
os.environ.setdefault("OMP_NUM_THREADS", "1")
# What is kept names its bench, and must not name this machine.
os.environ["TONEMATCH_BENCH"] = "bench of the tests"


@pytest.fixture(autouse=True)
def persons_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A person's data folder of their own, not yet there: no logbook, cards or heading.

    Commands that run as processes of their own are told by the environment (Linux).
    """
    folder = tmp_path / "of a person" / "tonematch"
    monkeypatch.setattr(platformdirs, "user_data_path", lambda *_, **__: folder)
    monkeypatch.setenv("XDG_DATA_HOME", str(folder.parent))
    monkeypatch.delenv("TONEMATCH_LOGBOOK", raising=False)
    return folder


@pytest.fixture
def small_shelf() -> Mapping[str, Layer]:
    """Three layers, one of a kind."""
    layers = (
        Layer("thin shellac", "seal"),
        Layer("raw umber wash", "wash"),
        Layer("rottenstone", "dust"),
    )
    return {layer.name: layer for layer in layers}


@pytest.fixture(scope="session")
def memory() -> Memory:
    """Fits of layers that were made in this session: most tests learn from the same trials.

    What is learned does not hang on it (tests/toning/model/test_layer_model.py).
    """
    return Memory()


@pytest.fixture(scope="session")
def demo_model(memory: Memory) -> LayerModel:
    """The layer model of the invented trials, fitted once: nobody writes into it."""
    shelf = load_shelf()
    trials = read_trials(swatch_path("demo", "trials.csv"), shelf)
    return fit_trials(trials, shelf, memory=memory)


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    """A fresh logbook."""
    with open_logbook(tmp_path / "logbook.sqlite") as opened:
        yield opened


@pytest.fixture
def empty_logbook(tmp_path: Path) -> Path:
    """The file of a logbook that was opened once and holds nothing."""
    path = tmp_path / "empty.sqlite"
    open_logbook(path).close()
    return path


@pytest.fixture(scope="session")
def trial() -> Trial:
    """A wash on a piece called frame."""
    application = Application(
        np.array([70.25, 5.5, 40.125]), "raw umber wash", "wash", 0.5, 2, "water", "burnished"
    )
    return Trial(application, np.array([62.0, 6.0, 36.1]), "frame", "2026-03-31", 2, "left edge")


@pytest.fixture(scope="session")
def calibration() -> Calibration:
    """A card in the corner of a picture."""
    return Calibration(
        gains=np.array([1.1, 1.0, 0.9]),
        relative_covariance=np.diag([1e-5, 2e-5, 3e-5]),
        to_xyz=np.eye(3),
        card=Area("card", ((0, 0), (20, 0), (20, 20), (0, 20)), "card"),
        value=CardValue(np.array([0.1736, 0.18, 0.1485]), "reflectance 0.18"),
        warnings=("The card is a little uneven.",),
    )


@pytest.fixture(scope="session")
def comparison() -> Comparison:
    """A repair that is lighter and yellower than its original."""
    original = Reading(
        lab=np.array([60.0, 8.0, 32.0]),
        covariance=np.diag([0.09, 0.04, 0.0625]),
        own_covariance=np.diag([0.01, 0.01, 0.01]),
        pixels=1500,
        left_out=12,
        spread_L=1.25,
        spread_C=0.75,
        area=Area("old gold", ((30, 10), (70, 10), (70, 50), (30, 50)), "original"),
        photo_sha256="0" * 64,
        warnings=("Some glare was left out.",),
    )
    repair = replace(
        original,
        lab=np.array([68.0, 6.0, 40.0]),
        area=Area("new gold", ((80, 10), (110, 10), (110, 50), (80, 50)), "repair"),
    )
    return Comparison(
        delta_e=7.4,
        interval=(6.9, 8.0),
        delta_L=8.0,
        delta_C=7.5,
        delta_h=5.5,
        delta_H=3.5,
        tolerance=2.0,
        verdict="no match",
        words="The repair is lighter and yellower.",
        original=original,
        repair=repair,
        warnings=("The difference is above 5.",),
    )


@pytest.fixture(scope="session")
def proposal() -> Proposal:
    """Two plans: one of two layers, and to stop here."""
    steps = (
        Step("thin shellac", "seal", 0.5, 1, Prediction(np.array([67.0, 6, 41]), np.eye(3))),
        Step("raw umber wash", "wash", 0.25, 2, Prediction(np.array([61.0, 7, 33]), 2 * np.eye(3))),
    )
    plans = (
        Plan(steps, 1.5, 0.75, 0.75, ("Let the shellac dry overnight.",), "seal, then wash"),
        Plan((), 7.4, 0.0, 0.0, (), "stop here"),
    )
    return Proposal(
        plans, np.array([68.0, 6, 40]), np.array([60.0, 8, 32]), 2.0, "a cool glaze", ("Thin.",)
    )


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, memory: Memory) -> Run:
    """A command's arguments in, what it did out."""
    monkeypatch.setattr(layer_model, "Memory", lambda: memory)

    def run_it(*arguments: object) -> Ran:
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
        said = capsys.readouterr()
        assert isinstance(ended.value.code, int)
        return Ran(ended.value.code, said.out, said.err)

    return run_it


@pytest.fixture
def trial_file() -> Path:
    """The invented trials."""
    return swatch_path("demo", "trials.csv")


@pytest.fixture
def demo_truth() -> dict[str, Any]:
    """The true Lab of each area of the bundled photographs."""
    text = swatch_path("demo", "truth.json").read_text(encoding="utf-8")
    stated: dict[str, Any] = json.loads(text)["pictures"]
    return stated


@pytest.fixture
def boxes(demo_truth: dict[str, Any]) -> dict[str, str]:
    """Boxes of scene-1.jpg as the command line takes them."""
    areas = demo_truth["scene-1.jpg"]["areas"]
    return {
        name.removesuffix(" card"): ",".join(map(str, area["box"])) for name, area in areas.items()
    }
