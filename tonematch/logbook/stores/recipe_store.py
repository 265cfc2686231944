"""Recipes: what was mixed and laid under a name, where it was laid again, and how that landed."""

from collections.abc import Sequence

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.core import Recipe, RecipeStep, RecipeUse
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import RecipeRow, RecipeUseRow, TrialRow, now
from tonematch.logbook.stores import finding, zones
from tonematch.logbook.trial_check import fault_of_text
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.layers.layer_entry import check_amount
from tonematch.toning.layers.taking_back import lifted


class RecipeStore(LogbookStore):
    """Recipes, kept by name and used by it."""

    def add_recipe(self, name: str, steps: Sequence[RecipeStep], note: str = "") -> None:
        """Keep what was mixed and laid under a name.

        Raises LogbookError where the name is taken or cannot be kept, or nothing is laid by it,
        ValueRefused for a strength or coats that cannot be laid.
        """
        fault = fault_of_text(name) or fault_of_text(note, note=True)
        if not name or fault:
            raise LogbookError(f"A recipe needs a name, and {name[:20]!r} cannot be one: {fault}.")
        if not steps:
            raise LogbookError(f"{name} lays nothing: give the layers that were laid, in order.")
        for step in steps:
            check_amount(step.layer, step.strength, step.coats)
        with self.writing() as session:
            there = session.scalars(select(RecipeRow).where(RecipeRow.name == name)).one_or_none()
            if there is not None:
                state = "is" if there.removed_at is None else "was once"
                raise LogbookError(f"{name!r} {state} the name of a recipe: give another name.")
            session.add(RecipeRow(name=name, steps=tuple(steps), note=note))

    def laid_steps(self, piece: str, zone: str = "") -> list[RecipeStep]:
        """What was laid on a piece, as the steps of a recipe; nothing that was taken back."""
        steps: list[RecipeStep] = []
        with self.reading() as session:
            for trial in _trials(session, zones.piece_row(session, piece, zone).id):
                step = rows.recipe_step_of(trial)
                if step.kind != "lift":
                    steps.append(step)
                elif step.strength >= 1.0:  # a part that is taken off leaves the layer there
                    del steps[len(steps) - lifted([s.layer for s in steps], step.layer) :]
        return steps

    def recipes(self) -> list[Recipe]:
        """All recipes with their uses, the one used last first."""
        with self.reading() as session:
            known = session.scalars(finding.all_of(RecipeRow, RecipeRow.removed_at.is_(None)))
            found = [_recipe(session, row) for row in known]
        return sorted(found, key=lambda one: [use.id for use in one.uses][-1:], reverse=True)

    def recipe(self, name: str) -> Recipe:
        """One recipe by its name, whatever its capitals."""
        with self.reading() as session:
            return _recipe(session, _row_named(session, name))

    def use_recipe(self, name: str, piece: str, zone: str = "") -> Recipe:
        """Keep that a recipe is laid on a piece from now on; gives it with this use as its last."""
        with self.writing() as session:
            recipe = _row_named(session, name)
            row = zones.piece_row(session, piece, zone)
            last = finding.last_comparison(session, row.id)
            trial = select(func.max(TrialRow.id)).where(TrialRow.piece_id == row.id)
            use = RecipeUseRow(
                recipe_id=recipe.id,
                piece_id=row.id,
                comparison_id=None if last is None else last.id,
                last_trial_id=session.scalars(trial).one(),
            )
            session.add(use)
            session.flush()
            return _recipe(session, recipe)

    def recipe_in_use(self, piece: str, zone: str = "") -> Recipe | None:
        """The recipe that is being laid on a piece and is not at its end, with this use alone."""
        with self.reading() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            of_piece = select(RecipeUseRow).where(RecipeUseRow.piece_id == piece_id)
            last = session.scalars(of_piece.order_by(RecipeUseRow.id.desc()).limit(1)).one_or_none()
            if last is None or last.recipe.removed_at is not None:
                return None
            use = _use(session, last, last.recipe.steps)
            if use.left or use.laid == len(last.recipe.steps):
                return None
            return rows.value_of(Recipe, last.recipe, uses=(use,))

    def remove_recipe(self, name: str, reason: str = "") -> None:
        """Take a recipe out of sight, until that is undone or the logbook is emptied."""
        with self.writing() as session:
            row = _row_named(session, name)
            finding.alter(session, row, {"removed_at": now()}, "removed", reason)


def _row_named(session: Session, name: str) -> RecipeRow:
    known = {
        row.name.casefold(): row
        for row in session.scalars(finding.all_of(RecipeRow, RecipeRow.removed_at.is_(None)))
    }
    if (found := known.get(name.strip().casefold())) is None:
        told = ", ".join(repr(row.name) for row in known.values()) or "none yet"
        raise LogbookError(
            f"No recipe {name!r} is in the logbook, which has {told}: check the name, or add it."
        )
    return found


def _trials(session: Session, piece_id: int, after: int | None = None) -> list[TrialRow]:
    """What was done to a piece after a trial, but for what is left out."""
    of_piece = (TrialRow.piece_id == piece_id, TrialRow.excluded.is_(False))
    return list(session.scalars(finding.all_of(TrialRow, *of_piece, TrialRow.id > (after or 0))))


def _recipe(session: Session, row: RecipeRow) -> Recipe:
    query = finding.all_of(RecipeUseRow, RecipeUseRow.recipe_id == row.id)
    uses = tuple(_use(session, use, row.steps) for use in session.scalars(query))
    return rows.value_of(Recipe, row, uses=uses)


def _use(session: Session, use: RecipeUseRow, steps: Sequence[RecipeStep]) -> RecipeUse:
    """How much of a recipe was laid, one step after the other, and how far off that left it."""
    trials = _trials(session, use.piece_id, use.last_trial_id)
    laid = 0
    for trial, step in zip(trials, steps, strict=False):
        if rows.recipe_step_of(trial) != step:
            break
        laid += 1
    before = after = None
    if use.comparison is not None:
        before = use.comparison.delta_e
        if laid:
            kept = rows.comparison_of(use.comparison)
            end = rows.trial_of(trials[laid - 1]).after
            after = float(delta_e_2000(kept.comparison.original.lab, end))
    left = laid < min(len(trials), len(steps))
    return rows.value_of(
        RecipeUse, use, piece=use.piece.name, zone=use.piece.zone,
        laid=laid, left=left, before=before, after=after,
    )  # fmt: skip
