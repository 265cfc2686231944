"""The demonstration: an invented piece with calculated photographs and invented trials."""

import json
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from tonematch.errors import LogbookError
from tonematch.in_words import say_comparison, say_lab, say_proposal
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.appearance.look import last_step_of
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Area, Comparison, Role
from tonematch.measure.marked import Marked, compare_marked
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.record.document import write_record
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Application, Proposal, Step, Trial
from tonematch.toning.layers.mix import USUAL_POT
from tonematch.toning.layers.shelf import layers_with_trials, load_shelf
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.planning.gap import Workshop, gap_of
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.telling import PlanTeller
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

# The repair before any toning, and after each layer.
UNTONED, TONED = "scene-1.jpg", ("scene-2-after-1.jpg", "scene-2-after-2.jpg")


@dataclass(frozen=True)
class DemoPhotograph:
    """A bundled photograph, calculated and not taken.

    Attributes
    ----------
    name : str
        File name.
    areas : mapping from role to Area
        Card, original and repair, as far as the picture shows them.
    neutrals : tuple of (Area, float)
        White and black card with their reflectances.
    """

    name: str
    data: bytes
    areas: Mapping[str, Area]
    neutrals: tuple[tuple[Area, float], ...]

    def marked(self) -> Marked:
        """The photograph, marked in full."""
        return Marked(load_photo(self.data, self.name), self.areas, Aids(self.neutrals))


ROLES: tuple[Role, ...] = ("card", "original", "repair")


def demo_photograph(name: str) -> DemoPhotograph:
    """A bundled photograph with its marked areas, such as "scene-1.jpg"."""
    stated = _truth(name)["areas"]
    areas: dict[str, Area] = {
        role: box_area(role, stated[role]["box"], role) for role in ROLES if role in stated
    }
    neutrals = tuple(
        (box_area(card, stated[card]["box"]), float(np.mean(stated[card]["reflectance"])))
        for card in ("white card", "black card")
    )
    return DemoPhotograph(name, swatch_path("demo", name).read_bytes(), areas, neutrals)


def _truth(name: str) -> dict[str, Any]:
    """What the renderer knows of a bundled photograph."""
    truth = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))
    stated: dict[str, Any] = truth["pictures"][name]
    return stated


def load_demonstration(logbook: Logbook) -> None:
    """Put the invented piece and trials into a logbook; LogbookError where they are there."""
    logbook.add_piece(PIECE)
    logbook.add_trials(read_trials(swatch_path("demo", "trials.csv"), load_shelf()))


def run_demonstration(into: Path | None, say: Callable[[str], None]) -> Path:
    """The whole job on the bundled photographs; `say` takes each line for the person.

    Gives the folder, with the photographs, the trials, a logbook and the record: a temporary one
    unless given. Raises LogbookError where it holds something already or cannot be written.
    """
    folder = _folder_with_pictures(into)
    say("All of this is invented: the photographs are calculated, the trials made up.")
    with open_logbook(folder / "logbook.sqlite") as logbook:
        load_demonstration(logbook)
        say(f"\nThe repair beside the original ({UNTONED})")
        gap, _ = _compare(logbook, UNTONED)
        say(say_comparison(gap))
        laid = PIECE.laid_before
        for picture in TONED:
            trials = logbook.trials()
            say(f"\nPlans from where the surface is, learned from {len(trials)} trials")
            proposal = _plan(logbook, trials, gap, laid)
            teller = PlanTeller(load_shelf(), PIECE.surface(), USUAL_POT)
            say(say_proposal(proposal, teller, numbers=True))
            number, step = _photographed(proposal, picture)
            say(f"\nThe first layer of plan {number} is laid, and photographed ({picture})")
            before, (gap, photo) = gap, _compare(logbook, picture)
            _log_layer(logbook, step, before, gap, say)
            say(say_comparison(gap))
            laid = (*laid, *[step.layer] * step.coats)
        for words in last_step_of(gap, photo, photo) if gap.verdict == "match" else ():
            say(words)
        record = write_record(logbook.histories(PIECE.name), folder / "record.html")
    say(f"\nThe photographs, the logbook and the record ({record.name}) are in {folder}.")
    return folder


def _photographed(proposal: Proposal, name: str) -> tuple[int, Step]:
    """The number of the plan whose first step a bundled photograph shows, and that step."""
    layer, amount = _truth(name)["recipes"]["repair"]["recipe"][-1]
    for number, plan in enumerate(proposal.plans, start=1):
        for step in plan.steps[:1]:
            if step.layer == layer and step.strength * step.coats == amount:
                return number, step
    raise LogbookError(
        f"No plan proposes the {layer} that {name} shows: the demonstration cannot go on; see "
        "DEVELOPERS.md on making it anew."
    )


def _folder_with_pictures(into: Path | None) -> Path:
    try:
        folder = Path(tempfile.mkdtemp(prefix="tonematch-demo-")) if into is None else into
        make_folder(folder)
        if any(folder.iterdir()):
            raise LogbookError(f"{folder} holds something already: give a new or empty folder.")
        for name in (UNTONED, *TONED, "trials.csv"):
            write_whole(folder / name, swatch_path("demo", name).read_bytes())
    except OSError as error:
        raise LogbookError(
            f"{into or 'The folder for temporary files'} cannot be used ({error.strerror}): give "
            "a folder that can be written, on a disk with room."
        ) from error
    return folder


def _compare(logbook: Logbook, name: str) -> tuple[Comparison, Photo]:
    shown = demo_photograph(name)
    marked = shown.marked()
    comparison = compare_marked(marked, marked, usual_card(), PIECE.tolerance)
    logbook.keep_photo(shown.data, name, PIECE.name)
    logbook.keep_comparison(PIECE.name, comparison, {marked.photo.sha256: marked.aids})
    return comparison, marked.photo


def _plan(logbook: Logbook, trials: list[Trial], gap: Comparison, laid: Sequence[str]) -> Proposal:
    shelf = load_shelf()
    surface = PIECE.surface(tuple(shelf[name] for name in laid))
    layers = layers_with_trials(trials, shelf)
    proposal = plan_for(gap_of(gap), Workshop(fit_trials(trials, shelf), layers, surface))
    logbook.keep_proposal(PIECE.name, proposal)
    return replace(proposal, plans=proposal.plans[:2])


def _log_layer(
    logbook: Logbook,
    step: Step,
    before: Comparison,
    after: Comparison,
    say: Callable[[str], None],
) -> None:
    got = after.repair.lab
    application = Application(
        before.repair.lab, step.layer, step.kind, step.strength, step.coats,
        PIECE.technique, PIECE.finish,
    )  # fmt: skip
    logbook.add_trial(
        Trial(application, got, PIECE.name, note="invented"),
        before=before.repair,
        after=after.repair,
        prediction=step.prediction,
    )
    say(
        f"{step.layer}, strength {step.strength:g}: predicted {say_lab(step.prediction.lab)}; "
        f"got {say_lab(got)}; CIEDE2000 between them "
        f"{float(delta_e_2000(step.prediction.lab, got)):.2f}"
    )
