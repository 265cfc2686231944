"""The demonstration: an invented piece with calculated photographs and invented trials."""

import json
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tonematch.errors import LogbookError
from tonematch.in_words import say_comparison, say_lab, say_proposal
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Area, Comparison, Role
from tonematch.measure.marked import Marked, compare_marked
from tonematch.photo.decode import load_photo
from tonematch.record.document import write_record
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Application, Proposal, Trial
from tonematch.toning.layers.shelf import layers_with_trials, load_shelf
from tonematch.toning.model.chain import Coat, predict_steps
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.planning.plan import propose
from tonematch.wholefile import make_folder, write_whole

PIECE = Piece(
    name="demonstration frame (invented)",
    technique="water",
    finish="burnished",
    bole="red",
    leaf="23.75 ct",
    hangs_in="nowhere: this piece is invented",
    wish="aged in",
    notes="Invented. The photographs are calculated, not taken.",
    invented=True,
    laid_before=("clear shellac seal",),
)


@dataclass(frozen=True)
class DemoPhotograph:
    """A bundled photograph, calculated and not taken.

    Attributes
    ----------
    name : str
        File name.
    data : bytes
    areas : mapping from role to Area
        Card, original and repair, as far as the picture shows them.
    """

    name: str
    data: bytes
    areas: Mapping[str, Area]


ROLES: tuple[Role, ...] = ("card", "original", "repair")


def demo_photograph(name: str) -> DemoPhotograph:
    """A bundled photograph with its marked areas.

    Parameters
    ----------
    name : str
        Such as "scene-1.jpg".

    Returns
    -------
    DemoPhotograph
    """
    truth = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))
    stated = truth["pictures"][name]["areas"]
    areas: dict[str, Area] = {
        role: box_area(role, stated[role]["box"], role) for role in ROLES if role in stated
    }
    return DemoPhotograph(name, swatch_path("demo", name).read_bytes(), areas)


def load_demonstration(logbook: Logbook) -> None:
    """Put the invented piece and the invented trials into a logbook.

    Parameters
    ----------
    logbook : Logbook

    Raises
    ------
    LogbookError
        Where it holds the piece already, or cannot be written.
    """
    logbook.add_piece(PIECE)
    logbook.add_trials(read_trials(swatch_path("demo", "trials.csv"), load_shelf()))


def run_demonstration(into: Path | None, say: Callable[[str], None]) -> Path:
    """The whole job on the bundled photographs, told step by step.

    Parameters
    ----------
    into : pathlib.Path or None
        A folder that is new or empty; a temporary one unless given.
    say : callable
        Takes each line for the person.

    Returns
    -------
    pathlib.Path
        The folder, with the photographs, the trials, a logbook and the record.

    Raises
    ------
    LogbookError
        Where the folder holds something already or cannot be written.
    """
    folder = _folder_with_pictures(into)
    say("All of this is invented: the photographs are calculated, the trials made up.")
    with open_logbook(folder / "logbook.sqlite") as logbook:
        load_demonstration(logbook)
        say("\n1. The repair beside the original (scene-1.jpg)")
        before = _compare(logbook, "scene-1.jpg")
        say(say_comparison(before))
        trials = logbook.trials()
        say(f"\n2. Plans, learned from {len(trials)} trials")
        model = fit_trials(trials, load_shelf())
        say(say_proposal(_plan(logbook, model, trials, before)))
        say("\n3. One layer is laid and the repair photographed again (scene-2-after-1.jpg)")
        after = _compare(logbook, "scene-2-after-1.jpg")
        laid = Coat(load_shelf()[LAID], LAID_STRENGTH)
        _log_layer(logbook, model, laid, before, after, say)
        say(say_comparison(after))
        say("\n4. The plans, made anew from where the surface is")
        trials = logbook.trials()
        model = fit_trials(trials, load_shelf())
        say(say_proposal(_plan(logbook, model, trials, after, LAID)))
        record = write_record(logbook.history(PIECE.name), folder / "record.html")
    say(f"\nThe photographs, the logbook and the record ({record.name}) are in {folder}.")
    return folder


# The layer laid between the two photographs, as swatches/demo/truth.json states it.
LAID, LAID_STRENGTH = "raw umber wash", 0.75


def _folder_with_pictures(into: Path | None) -> Path:
    try:
        folder = Path(tempfile.mkdtemp(prefix="tonematch-demo-")) if into is None else into
        make_folder(folder)
        if any(folder.iterdir()):
            raise LogbookError(f"{folder} holds something already: give a new or empty folder.")
        for name in ("scene-1.jpg", "scene-2-after-1.jpg", "trials.csv"):
            write_whole(folder / name, swatch_path("demo", name).read_bytes())
    except OSError as error:
        raise LogbookError(
            f"{into or 'The folder for temporary files'} cannot be used ({error.strerror}): give "
            "a folder that can be written, on a disk with room."
        ) from error
    return folder


def _compare(logbook: Logbook, name: str) -> Comparison:
    shown = demo_photograph(name)
    marked = Marked(load_photo(shown.data, name), shown.areas)
    comparison = compare_marked(marked, marked, usual_card(), PIECE.tolerance)
    logbook.keep_photo(shown.data, name, PIECE.name)
    logbook.keep_comparison(PIECE.name, comparison)
    return comparison


def _plan(
    logbook: Logbook, model: LayerModel, trials: list[Trial], gap: Comparison, *laid: str
) -> Proposal:
    shelf = load_shelf()
    beneath = tuple(shelf[name] for name in (*PIECE.laid_before, *laid))
    proposal = propose(
        model,
        layers_with_trials(trials, shelf),
        gap.repair.lab,
        gap.original.lab,
        tolerance=gap.tolerance,
        before_covariance=gap.repair.own_covariance,
        target_covariance=gap.original.own_covariance,
        reading_covariance=model.reading_covariance_,
        surface=PIECE.surface(beneath),
        tried={trial.application.layer for trial in trials},
    )
    logbook.keep_proposal(PIECE.name, proposal)
    return replace(proposal, plans=proposal.plans[:2])


def _log_layer(
    logbook: Logbook,
    model: LayerModel,
    laid: Coat,
    before: Comparison,
    after: Comparison,
    say: Callable[[str], None],
) -> None:
    (step,) = predict_steps(model, before.repair.lab, [laid], PIECE.technique, PIECE.finish)
    got = after.repair.lab
    application = Application(
        np.asarray(before.repair.lab), laid.layer.name, laid.layer.kind, laid.strength, laid.coats,
        PIECE.technique, PIECE.finish,
    )  # fmt: skip
    logbook.add_trial(
        Trial(application, np.asarray(got), PIECE.name, note="invented"),
        before=before.repair,
        after=after.repair,
        prediction=step.prediction,
    )
    say(
        f"{laid.layer.name}, strength {laid.strength:g}: predicted {say_lab(step.prediction.lab)}; "
        f"got {say_lab(got)}; CIEDE2000 between them "
        f"{float(delta_e_2000(step.prediction.lab, got)):.2f}"
    )
