"""A model kept up with a logbook that grows by one trial at a time."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from tonematch.toning.core import Layer, Trial
from tonematch.toning.model.layer_model import LayerModel, fit_trials

# Up to so many trials all are learned anew in seconds, so that a logbook gives the same model
# whatever way it grew.
FEW = 300


@dataclass(frozen=True, eq=False)
class _Known:
    trials: list[Hashable]
    model: LayerModel


class Learner:
    """Learns a long logbook once, and after that only what is new in it.

    Parameters
    ----------
    shelf : mapping from name to Layer
    few : int
        Up to so many trials everything is learned anew.
    """

    def __init__(self, shelf: Mapping[str, Layer], few: int = FEW) -> None:
        self.shelf, self.few = shelf, few
        self._last: _Known | None = None

    def learn(self, trials: Sequence[Trial]) -> LayerModel:
        """The layer model of these trials.

        Parameters
        ----------
        trials : sequence of Trial

        Returns
        -------
        LayerModel
            Where the trials are those of the last call and one more at the end, its model with
            that one added; else one that is fitted to all.
        """
        now, last = [_key(trial) for trial in trials], self._last
        if last and len(trials) > self.few and last.trials == now[:-1]:
            new = trials[-1]
            model = last.model.with_trial(new.application, new.after, new.piece)
        else:
            model = fit_trials(trials, self.shelf)
        self._last = _Known(now, model)
        return model


def _key(trial: Trial) -> Hashable:
    a = trial.application
    colours = (*map(float, a.before), *map(float, trial.after))
    return (trial.piece, a.layer, a.kind, a.strength, a.coats, a.technique, a.finish, colours)
