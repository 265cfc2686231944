"""A trial put right as the shelf has it, with the rules of layering that it touches now."""

from collections.abc import Mapping
from dataclasses import replace

from tonematch.logbook.core import KeptTrial
from tonematch.logbook.layers_on_repair import surface_of
from tonematch.logbook.store import Logbook
from tonematch.toning.core import Layer, Surface, Trial
from tonematch.toning.layers.rules import check_layering


def put_trial_right(
    logbook: Logbook, kept: KeptTrial, trial: Trial, shelf: Mapping[str, Layer], reason: str = ""
) -> None:
    """Correct a trial in its place; for another layer or other coats the rules are held anew.

    Raises LogbookError when nothing of it would change, TrialError when a value cannot be kept.
    """
    cautions = None
    new, old = trial.application, kept.trial.application
    if (new.layer, new.coats) != (old.layer, old.coats):
        cautions = _cautions(logbook, kept, trial, shelf)
    logbook.correct_trial(kept.id, trial, cautions=cautions, reason=reason)


def _cautions(
    logbook: Logbook, kept: KeptTrial, trial: Trial, shelf: Mapping[str, Layer]
) -> list[str]:
    """Rules that the layer touches over what lay on the piece before it."""
    layer = shelf.get(trial.application.layer)
    if layer is None:
        return []
    surface = Surface()
    if trial.piece:
        on_it = logbook.kept_trials(trial.piece, zone=trial.zone)
        earlier = [k.trial for k in on_it if k.id < kept.id]
        surface = surface_of(logbook.piece(trial.piece, trial.zone), earlier, shelf)
    a = trial.application
    surface = replace(surface, technique=a.technique, finish=a.finish)
    return [finding.sentence for finding in check_layering(surface, [layer], coats=[a.coats])]
