"""The layer model: physics first, fitted to trials, with a distribution for every prediction."""

from collections.abc import Mapping, Sequence
from copy import copy
from typing import Self

import numpy as np
from numpy.typing import NDArray
from sklearn.base import BaseEstimator, RegressorMixin, clone
from threadpoolctl import threadpool_limits

from tonematch.measure.colour.local_metric import local_metric
from tonematch.toning.core import Application, Finish, Kind, Layer, Prediction, Technique, Trial
from tonematch.toning.model.fit import LayerFit, fit_layer, row_covariance, slopes
from tonematch.toning.model.fitted_layer import (
    LayerTrials,
    LearnedLayer,
    learn_layer,
    never_laid,
)
from tonematch.toning.model.hierarchy import departures, informed
from tonematch.toning.model.mahalanobis import squared_distance
from tonematch.toning.model.prior import Belief, first_belief
from tonematch.toning.model.recalibration import LeftOut, found_widening, without_some_pieces
from tonematch.toning.model.variance_components import (
    EXPECTED,
    FittedRows,
    pool_scatter,
    weigh_scatter,
)
from tonematch.toning.optics.film import FINISH_SIGN, TECHNIQUE_SIGN, Laid, lay

Array = NDArray[np.float64]

# Standard deviation of each of L*, a*, b* of a reading where nobody stated it: a choice of this
# project, near what readings of demonstration photographs show.
READING_NOISE = 0.4


class LayerModel(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """What each layer does to a surface of any colour, learned from trials.

    Keeps scikit-learn's contract: parameters in the constructor, `fit` and `predict`, fitted
    values end in an underscore.

    Parameters
    ----------
    shelf : mapping from name to Layer, optional
        Entries from which K and S start. Layers outside it start from their kind.
    reading_noise : float, default 0.4
        Standard deviation of each of L*, a*, b* of a reading, above 0.
    with_remainder : bool, default True
        Whether a Gaussian process may be laid on top where it helps.
    widening : float, optional
        Factor on the variances where it is known already; found by leaving out pieces by default.
    """

    def __init__(
        self,
        shelf: Mapping[str, Layer] | None = None,
        reading_noise: float = READING_NOISE,
        with_remainder: bool = True,
        widening: float | None = None,
    ) -> None:
        self.shelf = shelf
        self.reading_noise = reading_noise
        self.with_remainder = with_remainder
        self.widening = widening

    def fit(self, X: Sequence[Application], y: Array, pieces: Sequence[str] | None = None) -> Self:
        """Learn from trials.

        Parameters
        ----------
        X : sequence of Application, length n
        y : ndarray, shape (n, 3)
            CIELAB (D50, 2 degree) read after each.
        pieces : sequence of str, length n, optional
            On which piece each was laid: a remainder must hold on pieces it was not learned from.

        Returns
        -------
        LayerModel
        """
        # Many small matrices: threads of the linear algebra would only wait for each other.
        with threadpool_limits(limits=1, user_api="blas"):
            return self._fit(self._rows(X, np.asarray(y, dtype=float).reshape(-1, 3), pieces))

    def with_trial(self, application: Application, after: Array, piece: str = "") -> "LayerModel":
        """A model that knows one trial more; this one stays as it is.

        Only the layer of the trial is fitted anew, with what its kind and the workshop teach by
        now. The other layers keep their fits: they miss what this one trial would have told them
        by way of their kind, until `fit` learns all trials anew.

        Parameters
        ----------
        application : Application
        after : ndarray, shape (3,)
            CIELAB (D50, 2 degree) read after it.
        piece : str, optional

        Returns
        -------
        LayerModel
        """
        name = application.layer
        more = self._rows([application], np.asarray(after, dtype=float).reshape(1, 3), [piece])[
            name
        ]
        grown = copy(self)
        before = self.trials_.get(name)
        grown.trials_ = {**self.trials_, name: before.and_also(more) if before else more}
        with threadpool_limits(limits=1, user_api="blas"):
            grown.rough_ = {**self.rough_, name: grown._roughly(grown.trials_[name])}
            grown._learn([name])
        return grown

    def _fit(self, trials: Mapping[str, LayerTrials]) -> Self:
        self._know(trials)
        known = self.widening
        self.widening_ = found_widening(self._left_out()) if known is None else known
        return self

    def _know(self, trials: Mapping[str, LayerTrials]) -> Self:
        """Learn all that is told by trials, with regions as wide as they say."""
        self.trials_ = dict(trials)
        self.rough_ = {name: self._roughly(own) for name, own in trials.items()}
        self.evidence_: dict[str, Array] = {}
        self.layers_: dict[str, LearnedLayer] = {}
        self.widening_ = 1.0
        return self._learn(list(trials))

    def _left_out(self) -> LeftOut:
        """Trials held against models that were not told of their pieces."""
        squared, freedom = [np.empty(0)], [np.empty(0)]
        for learn, test in without_some_pieces(self.trials_):
            other = clone(self)._know(learn)
            noise = other.reading_covariance_
            for name, own in test.items():
                known = other.known(name, own.layer.kind)
                lab, covariance = other._lay(known, own.laid, noise)
                squared.append(squared_distance(own.after - lab, covariance + noise))
                freedom.append(np.full(len(own), known.freedom))
        return LeftOut(np.concatenate(squared), np.concatenate(freedom))

    def _learn(self, names: Sequence[str]) -> Self:
        """Learn these layers, each from its trials, its kind and the workshop."""
        self.departures_ = departures(self.trials_, self.rough_)
        beliefs = {name: self._belief(self.trials_[name].layer) for name in names}
        self.evidence_ = self.evidence_ | {
            name: weigh_scatter(self._fitted(name, beliefs[name]), self.reading_noise)
            for name in names
        }
        self.workshop_, scatters = pool_scatter(self.evidence_)
        self.layers_ = self.layers_ | {
            name: learn_layer(
                self.trials_[name], beliefs[name], scatters[name],
                self.reading_noise, self.with_remainder,
            )
            for name in names
        }  # fmt: skip
        return self

    def _roughly(self, trials: LayerTrials) -> LayerFit:
        """What a layer's trials say while only the shelf and no other layer is known."""
        first = first_belief(trials.layer)
        return fit_layer(trials.laid, trials.after, first, EXPECTED, self.reading_noise)

    def _fitted(self, name: str, belief: Belief) -> FittedRows:
        trials = self.trials_[name]
        return FittedRows(trials.laid, trials.after, belief, self.rough_[name])

    def predict(self, X: Sequence[Application]) -> Array:
        """CIELAB expected after each application.

        Parameters
        ----------
        X : sequence of Application, length n

        Returns
        -------
        ndarray, shape (n, 3)
        """
        labs = [self.predict_distribution(a).lab for a in X]
        return np.array(labs, dtype=np.float64).reshape(-1, 3)

    def predict_distribution(
        self, application: Application, before_covariance: Array | None = None
    ) -> Prediction:
        """What the next photograph should read after one application.

        Parameters
        ----------
        application : Application
        before_covariance : ndarray, shape (3, 3), optional
            Of `application.before`; a reading's noise where not given.

        Returns
        -------
        Prediction
            Its covariance holds the reading's own noise too.
        """
        a = application
        if before_covariance is None:
            before_covariance = self.reading_covariance_
        lab, covariance = self.predict_many(
            a.layer, a.kind, np.asarray(a.before, dtype=np.float64)[None], before_covariance[None],
            np.array([a.strength]), np.array([a.coats]), a.technique, a.finish,
        )  # fmt: skip
        freedom = self.known(a.layer, a.kind).freedom
        return Prediction(lab[0], covariance[0] + self.reading_covariance_, freedom)

    @property
    def reading_covariance_(self) -> Array:
        """Covariance of a reading's own noise, as left-out trials bear it out; shape (3, 3)."""
        return np.asarray(self.widening_ * self.reading_noise**2 * np.eye(3))

    def predict_many(
        self,
        layer: str,
        kind: Kind,
        before: Array,
        before_covariance: Array,
        strength: Array,
        coats: Array,
        technique: Technique = "unknown",
        finish: Finish = "unknown",
    ) -> tuple[Array, Array]:
        """The surface after one layer, for many surfaces, strengths and coats at once.

        Parameters
        ----------
        layer : str
        kind : Kind
            Used where neither trials nor shelf know the layer.
        before : ndarray, shape (n, 3)
        before_covariance : ndarray, shape (n, 3, 3)
        strength, coats : ndarray, shape (n,)
        technique, finish : str

        Returns
        -------
        lab : ndarray, shape (n, 3)
        covariance : ndarray, shape (n, 3, 3)
            Of the surface itself; a reading of it adds its own noise.
        """
        known = self.known(layer, kind)
        n = len(before)
        laid = Laid(
            np.asarray(before, dtype=np.float64),
            np.asarray(strength, dtype=np.float64),
            np.asarray(coats, dtype=np.float64),
            np.full(n, TECHNIQUE_SIGN[technique]),
            np.full(n, FINISH_SIGN[finish]),
        )
        return self._lay(known, laid, before_covariance)

    def _lay(
        self, known: LearnedLayer, laid: Laid, before_covariance: Array
    ) -> tuple[Array, Array]:
        slope = slopes(known.fit.theta, laid)
        lab = lay(known.fit.theta, laid)
        own = slope.theta @ known.fit.covariance @ slope.theta.swapaxes(1, 2) + row_covariance(
            slope, local_metric(lab), known.scatter, 0.0
        )
        if known.remainder is not None:
            lab, variance = known.remainder.predict(laid, lab)
            own = own + variance[:, :, None] * np.eye(3)
        carried = slope.before @ before_covariance @ slope.before.swapaxes(1, 2)
        return lab, carried + self.widening_ * own

    def _rows(
        self, X: Sequence[Application], y: Array, pieces: Sequence[str] | None
    ) -> dict[str, LayerTrials]:
        of_piece = np.array(pieces if pieces is not None else ["" for _ in X])
        where: dict[str, list[int]] = {}
        for i, application in enumerate(X):
            where.setdefault(application.layer, []).append(i)
        return {
            name: LayerTrials(
                self.entry(name, X[at[0]].kind), Laid.of([X[i] for i in at]), y[at], of_piece[at]
            )
            for name, at in where.items()
        }

    def entry(self, name: str, kind: Kind) -> Layer:
        """The shelf's entry for a layer, or one of which only the kind is known."""
        return (self.shelf or {}).get(name) or Layer(name, kind)

    def _belief(self, layer: Layer) -> Belief:
        first = first_belief(layer)
        departure = self.departures_.get(layer.kind)
        return informed(first, departure) if departure else first

    def known(self, name: str, kind: Kind) -> LearnedLayer:
        """What is known of a layer: from its trials, else from the shelf and its kind."""
        if name in self.layers_:
            return self.layers_[name]
        return never_laid(self._belief(self.entry(name, kind)), self.workshop_)


def fit_trials(
    trials: Sequence[Trial], shelf: Mapping[str, Layer], **parameters: float | bool | None
) -> LayerModel:
    """A layer model of these trials.

    Parameters
    ----------
    trials : sequence of Trial
    shelf : mapping from name to Layer
    **parameters
        Of LayerModel.

    Returns
    -------
    LayerModel
    """
    model = LayerModel(shelf, **parameters)  # type: ignore[arg-type]
    after = np.array([t.after for t in trials], dtype=np.float64).reshape(-1, 3)
    return model.fit([t.application for t in trials], after, [t.piece for t in trials])
