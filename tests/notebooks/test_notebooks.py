"""Every notebook runs from its first cell to its last, and tells the story that its words tell."""

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import nbformat
import numpy as np
import pytest
from nbclient import NotebookClient

from tonematch.demonstration import demo_photograph
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.marked import compare_marked
from tonematch.swatchbook import swatch_path

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))
FIGURES = (
    "terms", "camera_correlation", "bias", "widths", "cases", "first.delta_e", "first.interval",
)  # fmt: skip
"""What reading.ipynb computes and the tests hold against something."""

# The kernel's own client libraries warn of things that are not ours to mend.
pytestmark = [pytest.mark.proof, pytest.mark.filterwarnings("default")]


@cache
def run(path: Path) -> nbformat.NotebookNode:
    """The notebook as it comes out; of reading.ipynb with its figures printed in a last cell."""
    notebook: nbformat.NotebookNode = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
    if path.stem == "reading":
        entries = ", ".join(f"{name!r}: {name}" for name in FIGURES)
        cell = nbformat.v4.new_code_cell(f"print(json.dumps({{{entries}}}))")  # type: ignore[no-untyped-call]
        notebook.cells.append(cell)
    NotebookClient(notebook, timeout=600, kernel_name="python3").execute(cwd=path.parent)
    return notebook


@pytest.fixture
def figures() -> dict[str, Any]:
    """What reading.ipynb computed."""
    path = next(path for path in NOTEBOOKS if path.stem == "reading")
    found: dict[str, Any] = json.loads(run(path).cells[-1].outputs[0]["text"])
    return found


def test_there_is_a_notebook() -> None:
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_runs(path: Path) -> None:
    ran = [cell for cell in run(path).cells if cell.cell_type == "code"]
    assert all(cell.execution_count for cell in ran)
    pictures = [
        output for cell in ran for output in cell.outputs if "image/png" in output.get("data", {})
    ]
    assert pictures


def _printed(notebook: nbformat.NotebookNode) -> str:
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", ())]
    return "".join(output["text"] for output in outputs if output.output_type == "stream")


def test_main_job_goes_from_the_gap_over_its_own_plans_to_a_match() -> None:
    (path,) = (path for path in NOTEBOOKS if path.stem == "main_job")
    told = _printed(run(path))
    truth = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))["pictures"]
    assert "Stop here" not in told
    assert told.index(": no match") < told.index("Plan 1.") < told.index("near enough")
    # The plans are as sure as those of the demonstration, and what is laid is what they propose.
    first, *_, again = re.findall(
        r"Expected CIEDE2000 ([\d.]+), chance within tolerance (.*) %", told
    )
    for far, chance in (first, again):
        assert float(far) < 2.0
        assert float(chance.removeprefix("over ")) > 60
    proposed = re.findall(r"^    (.+?), strength ([\d.]+), 1 coat:", told, re.MULTILINE)
    for picture in ("scene-2-after-1.jpg", "scene-2-after-2.jpg"):
        layer, strength = truth[picture]["recipes"]["repair"]["recipe"][-1]
        assert (layer, f"{strength:g}") in proposed
    (missed,) = re.findall(r"CIEDE2000 between them ([\d.]+)", told)
    assert float(missed) < 1.0
    # The stored outputs are those of this code.
    stored: nbformat.NotebookNode = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
    assert _without_numbers(_printed(stored)) == _without_numbers(told)


def _without_numbers(text: str) -> str:
    return re.sub(r"[-\d.e]*\d[-\d.e]*|\s+", " ", text)


def test_reading_tells_what_the_library_tells(figures: dict[str, Any]) -> None:
    shown = demo_photograph("scene-1.jpg")
    marked = shown.marked()
    compared = compare_marked(marked, marked, usual_card(), 2.0)
    assert figures["first.delta_e"] == pytest.approx(compared.delta_e)
    assert figures["first.interval"] == pytest.approx(compared.interval)
    # What the renderer of the photograph knows: CIEDE2000 by colour-science of the spectra.
    truth = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))
    low, high = figures["first.interval"]
    assert low <= truth["pictures"][shown.name]["delta_e_2000"] <= high


def test_reading_shows_a_difference_known_better_than_a_colour(figures: dict[str, Any]) -> None:
    terms = {name: tuple(moved) for name, moved in figures["terms"].items()}
    colour, difference = terms["all"]
    assert difference < colour / 3
    # Of a raw file: a rendered picture turns lighter and darker golds not quite alike.
    assert figures["camera_correlation"] > 0.99
    # Terms that share nothing add as squares, JCGM 100:2008, 5.1.2 (to first order, and drawn).
    once = ("noise and mottle", "metamerism", "card", "light", "tone", "camera")
    for k, whole in enumerate(terms["all"]):
        assert whole == pytest.approx(np.sqrt(sum(terms[name][k] ** 2 for name in once)), rel=0.1)


def test_reading_shows_bias_repeats_and_accuracy_as_asked(figures: dict[str, Any]) -> None:
    # Noise of 0.5 on each coordinate of a difference: told as read, it lengthens less and less.
    bias = [figures["bias"][true] for true in ("0.0", "1.0", "2.0")]
    assert 0.8 > bias[0] > bias[1] > bias[2] > 0.0
    assert bias[1] < 0.25
    widths = figures["widths"]
    assert widths["all five"] < widths["one photograph"]
    assert widths["two, the lamp moved"] > 1.15 * widths["one photograph"]
    for way in ("chart", "saved profile"):
        colour, difference, held = figures["cases"][way]
        assert colour <= 1.5
        assert difference <= 0.3
        assert held >= 0.75  # six photographs tell a share no nearer
