"""The gilder's own shelf: layers added, changed, renamed, retired and brought back."""

from dataclasses import replace

import numpy as np
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.core import Change
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import PieceRow, RecipeRow, TrialRow, now
from tonematch.logbook.stores import finding
from tonematch.toning.core import Application, Layer, Trial
from tonematch.toning.layers.layer_entry import MOST_NAME, MOST_TEXT, fault_of_length
from tonematch.toning.layers.shelf import layers_from_trials, load_shelf
from tonematch.toning.layers.taking_back import TAKEN_BACK

_NO_COLOUR = np.zeros(3)


class LayerStore(LogbookStore):
    """Layers of the gilder's own shelf; an entry stands before the shipped one of its name."""

    def add_layer(self, layer: Layer) -> None:
        """Put a layer on the gilder's own shelf, or in the place of a shipped one of its name.

        Raises LogbookError when its name is taken on the own shelf, or trials know it as another
        kind.
        """
        _refuse_long_texts(layer)
        with self.writing() as session:
            finding.refuse_taken_layer(session, layer.name)
            finding.refuse_other_kind(session, layer)
            session.add(rows.layer_row(layer))

    def change_layer(self, name: str, layer: Layer, reason: str = "") -> None:
        """Describe a layer of the own shelf anew, or rename it.

        What stood there before is kept as a change. Under a new name the layer's trials follow, and
        so do the pieces that it lay on before their first trial; each keeps a trace. Raises
        LogbookError when there is no such layer, the new name is taken, or trials know it as
        another kind.
        """
        _refuse_long_texts(layer)
        with self.writing() as session:
            row = finding.layer_named(session, name)
            if layer.name != name:
                _refuse_used_name(session, layer.name)
                _rename(session, name, layer.name, reason)
            finding.refuse_other_kind(session, layer)
            new = rows.layer_row(layer)
            values = {"name": new.name, "kind": new.kind, "entry": new.entry}
            finding.alter(session, row, values, "described anew", reason)

    def retire_layer(self, name: str, reason: str = "") -> None:
        """Take a layer off the gilder's own shelf; its entry and its trials stay."""
        self._mark_layer(name, now(), "retired", reason)

    def bring_back_layer(self, name: str, reason: str = "") -> None:
        """Put a retired layer on the gilder's own shelf again."""
        self._mark_layer(name, None, "brought back", reason)

    def own_layers(self, *, retired: bool = False) -> list[Layer]:
        """Layers of the gilder's own shelf, with those that were retired or without."""
        with self.reading() as session:
            return list(finding.own_layers(session, retired=retired))

    def shelf(self) -> dict[str, Layer]:
        """All layers by name: what ships, with the gilder's own entries in their place.

        A retired layer is known still, as one that is not at hand; where it stood in the place
        of a shipped one, that is back.
        """
        with self.reading() as session:
            known = finding.own_layers(session, retired=True)
            own = {layer.name: layer for layer in finding.own_layers(session, retired=False)}
        retired = {layer.name: replace(layer, at_hand=False) for layer in known}
        return retired | load_shelf() | own

    def known_layers(self, *, left_out: bool = False) -> dict[str, Layer]:
        """The shelf, then the layers that only trials know: those learned from, or all."""
        columns = (TrialRow.layer, TrialRow.kind, TrialRow.strength, TrialRow.coats)
        query = select(*columns).group_by(*columns).order_by(func.min(TrialRow.id))
        if not left_out:
            query = query.where(TrialRow.excluded.is_(False))
        with self.reading() as session:
            told = [Application(_NO_COLOUR, *laid) for laid in session.execute(query)]
        return layers_from_trials((Trial(laid, _NO_COLOUR) for laid in told), self.shelf())

    def layer_changes(self, name: str) -> list[Change]:
        """What was altered of a layer of the own shelf, oldest first."""
        with self.reading() as session:
            return list(finding.changes_of(session, finding.layer_named(session, name)))

    def _mark_layer(self, name: str, retired_at: str | None, words: str, reason: str) -> None:
        with self.writing() as session:
            row = finding.layer_named(session, name)
            if (row.retired_at is None) != (retired_at is None):
                finding.alter(session, row, {"retired_at": retired_at}, words, reason)


def _refuse_long_texts(layer: Layer) -> None:
    for field, value in vars(layer).items():
        if long := fault_of_length(str(value), MOST_NAME if field == "name" else MOST_TEXT):
            raise LogbookError(f"Layer {layer.name[:20]!r} cannot be kept, {field}: {long}.")


def _trials_of(session: Session, name: str) -> list[TrialRow]:
    # Trials may spell a layer with capitals.
    query = finding.all_of(TrialRow, func.lower(TrialRow.layer) == name.lower())
    return list(session.scalars(query))


def _refuse_used_name(session: Session, name: str) -> None:
    finding.refuse_taken_layer(session, name)
    if name in load_shelf() or _trials_of(session, name):
        raise LogbookError(
            f"{name!r} is the name of another layer: give this one a name that nothing has yet."
        )


def _rename(session: Session, old: str, new: str, reason: str) -> None:
    """Let trials, pieces and recipes that speak of a layer speak of it by its new name."""
    words = f"layer renamed from {old} to {new}"
    for taken_back in ("", TAKEN_BACK):
        for trial in _trials_of(session, old + taken_back):
            finding.alter(session, trial, {"layer": new + taken_back}, words, reason)
    for piece in session.scalars(select(PieceRow)):
        if old in piece.laid_before:
            renamed = tuple(new if name == old else name for name in piece.laid_before)
            finding.alter(session, piece, {"laid_before": renamed}, words, reason)
    for recipe in session.scalars(select(RecipeRow)):
        steps = tuple(
            replace(step, layer=new) if step.layer == old else step for step in recipe.steps
        )
        finding.alter(session, recipe, {"steps": steps}, words, reason)
    session.flush()
