"""Recipes: kept under a name, laid again on another piece, and how that landed."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.cli.commands import Run, refused
from tonematch.logbook.core import Piece
from tonematch.logbook.store import open_logbook
from tonematch.measure.core import Comparison
from tonematch.toning.core import Application, Kind, Trial

# Sharma, Wu and Dalal (2005), table 1, as the file says: pairs of CIELAB and their CIEDE2000.
PAIRS = Path(__file__).parents[1] / "reference" / "ciede2000-34-pairs.csv"


def tried(piece: str, layer: str, kind: Kind, after: np.ndarray, **amount: float) -> Trial:
    laid = Application(np.array([68.0, 6.0, 40.0]), layer, kind, **amount)  # type: ignore[arg-type]
    return Trial(laid, after, piece)


@pytest.fixture
def workshop(tmp_path: Path, comparison: Comparison) -> Path:
    """A mirror that was toned in two layers, and a frame that is to be."""
    path, after = tmp_path / "workshop.sqlite", np.array([62.0, 6.0, 36.0])
    with open_logbook(path) as book:
        book.add_piece(Piece("mirror"))
        book.add_piece(Piece("frame"))
        for layer, kind, amount in (
            ("raw umber wash", "wash", {"strength": 0.5, "coats": 2}),
            ("dark wax", "wax", {"strength": 1.0}),
        ):
            book.add_trial(tried("mirror", layer, kind, after, **amount))  # type: ignore[arg-type]
        book.keep_comparison("frame", comparison)
    return path


def test_what_was_laid_is_kept_and_laid_again_in_two_commands(
    run: Run, workshop: Path, comparison: Comparison
) -> None:
    ran = run("recipes", "add", "hall tone", "--laid-on", "mirror", "--logbook", workshop)
    assert ran.out == "hall tone is kept: raw umber wash 0.5, 2 coats, then dark wax 1.\n"
    listed = run("recipes", "list", "--logbook", workshop).out
    assert listed.splitlines()[-2:] == [f"hall tone: {ran.out[19:-2]}", "Recipes: 1."]
    ran = run("recipes", "use", "Hall tone", "frame", "--pot", "50ml", "--logbook", workshop)
    first, second, *_, last = ran.out.splitlines()
    assert first.startswith("1. raw umber wash, 2 coats: ")
    assert first.endswith("while wet; each coat dries 15 to 60 minutes; comes off: water.")
    assert second.startswith("2. dark wax, 1 coat: ")
    assert last == "hall tone is taken up for frame: let each dry, and photograph it."
    pair = np.loadtxt(PAIRS, delimiter=",", skiprows=4)[24]
    with open_logbook(workshop) as book:
        read = replace(comparison.original, lab=pair[:3])
        book.keep_comparison("frame", replace(comparison, original=read))
    run("recipes", "use", "hall tone", "frame", "--logbook", workshop)
    with open_logbook(workshop) as book:
        book.add_trial(tried("frame", "raw umber wash", "wash", pair[3:6], strength=0.5, coats=2))
        begun = book.recipe_in_use("frame")
        assert begun is not None
        assert [use.laid for use in begun.uses] == [1]
    uses = run("recipes", "list", "--logbook", workshop).out.splitlines()[1:3]
    assert uses[1].endswith(
        f": 1 of 2 laid; CIEDE2000 from the old gold {comparison.delta_e:.1f} before, "
        f"{pair[6]:.1f} after"
    )


def test_another_layer_leaves_a_recipe(run: Run, workshop: Path) -> None:
    run("recipes", "add", "hall tone", "--laid-on", "mirror", "--logbook", workshop)
    run("recipes", "use", "hall tone", "frame", "--logbook", workshop)
    with open_logbook(workshop) as book:
        assert book.recipe_in_use("frame") is not None
        book.add_trial(tried("frame", "dark wax", "wax", np.array([66.0, 6.0, 38.0]), strength=1.0))
        assert book.recipe_in_use("frame") is None
    told = run("recipes", "list", "--logbook", workshop).out
    assert "0 of 2 laid, then something else" in told


def test_a_recipe_is_typed_renamed_with_its_layer_removed_and_brought_back(
    run: Run, workshop: Path
) -> None:
    at = ("--logbook", workshop)
    run("shelf", "add", "north tea", "--kind", "wash", *at)
    assert (
        run("recipes", "add", "tea", "--layer", "north tea:0.5:2", "--note", "weak", *at).status
        == 0
    )
    run("shelf", "rename", "north tea", "black tea", *at)
    assert "tea (weak): black tea 0.5, 2 coats" in run("recipes", "list", *at).out
    assert "brings it back" in run("recipes", "remove", "tea", *at).out
    assert run("recipes", "list", *at).out == "Recipes: 0.\n"
    refused(run("recipes", "use", "tea", "frame", *at), "in the logbook, which has none yet: check")
    refused(run("recipes", "add", "tea", "--laid-on", "mirror", *at), "was once the name")
    assert run("logbook", "undo", *at).out.startswith("Undone: tea removed, ")
    assert run("recipes", "list", *at).out.endswith("Recipes: 1.\n")
    refused(run("recipes", "use", "te", "frame", *at), "in the logbook, which has 'tea': check")


def test_what_lays_nothing_is_no_recipe(run: Run, workshop: Path) -> None:
    at = ("--logbook", workshop)
    refused(run("recipes", "add", "bare", "--laid-on", "frame", *at), "bare lays nothing")
    refused(run("recipes", "add", "bare", *at), "Say what the recipe lays")
    refused(run("recipes", "add", "bare", "--layer", "soup:1", *at), "soup")
    refused(run("recipes", "add", "bare", "--layer", "dark wax:0", *at), "cannot be laid")
    refused(run("recipes", "add", " ", "--layer", "dark wax:1", *at), "needs a name")
