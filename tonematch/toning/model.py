"""The layer model: physics first, fitted to trials, with a distribution for every prediction."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2
from sklearn.base import BaseEstimator, RegressorMixin
from threadpoolctl import threadpool_limits

from tonematch.measure.local_metric import local_metric
from tonematch.toning.belief import Belief, Scatter, first_belief
from tonematch.toning.core import Application, Finish, Kind, Layer, Prediction, Technique, Trial
from tonematch.toning.film import FINISH_SIGN, TECHNIQUE_SIGN, Laid, lay
from tonematch.toning.fit import LayerFit, fit_layer, row_covariance, slopes
from tonematch.toning.pooling import Departure, common_departure, informed
from tonematch.toning.remainder import Remainder, learn_remainder
from tonematch.toning.scatter import EXPECTED, FittedRows, estimate_scatter

Array = NDArray[np.float64]

# Standard deviation of each of L*, a*, b* of a reading where nobody stated it: a choice of this
# project, near what readings of demonstration photographs show.
READING_NOISE = 0.4
# Where the strangeness of left-out trials is held against chi-squared with 3 degrees of freedom.
QUANTILES = (0.5, 0.65, 0.8, 0.9)
# As many left-out trials as the assumption that stated noise and scatter are right counts for.
ROWS_TO_WIDEN, ROWS_TO_NARROW = 20.0, np.inf


@dataclass(frozen=True, eq=False)
class LearnedLayer:
    """What the model knows of one layer.

    Attributes
    ----------
    belief : Belief
        Before this layer's own trials, after those of its kind.
    fit : LayerFit
    scatter : Scatter
    remainder : Remainder or None
    trials : int
    strangeness : ndarray
        Squared Mahalanobis distance of each trial when it (or its piece) is left out.
    """

    belief: Belief
    fit: LayerFit
    scatter: Scatter
    remainder: Remainder | None
    trials: int
    strangeness: Array


@dataclass(frozen=True, eq=False)
class _Rows:
    """The trials of one layer."""

    layer: Layer
    laid: Laid
    after: Array
    pieces: Array


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
    """

    def __init__(
        self,
        shelf: Mapping[str, Layer] | None = None,
        reading_noise: float = READING_NOISE,
        with_remainder: bool = True,
    ) -> None:
        self.shelf = shelf
        self.reading_noise = reading_noise
        self.with_remainder = with_remainder

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

    def _fit(self, rows: Mapping[str, _Rows]) -> Self:
        firsts = {name: first_belief(r.layer) for name, r in rows.items()}
        rough = {
            name: fit_layer(r.laid, r.after, firsts[name], EXPECTED, self.reading_noise)
            for name, r in rows.items()
        }
        self.departures_ = _departures(rows, firsts, rough)
        beliefs = {name: self._belief(r.layer) for name, r in rows.items()}
        self.workshop_, scatters = estimate_scatter(
            {
                name: FittedRows(r.laid, r.after, beliefs[name], rough[name])
                for name, r in rows.items()
            },
            self.reading_noise,
        )
        self.layers_ = {
            name: self._learn(r, beliefs[name], scatters[name]) for name, r in rows.items()
        }
        self.widening_ = _widening(self.layers_)
        return self

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
        return Prediction(lab[0], covariance[0] + self.reading_covariance_)

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
    ) -> dict[str, _Rows]:
        of_piece = np.array(pieces if pieces is not None else ["" for _ in X])
        where: dict[str, list[int]] = {}
        for i, application in enumerate(X):
            where.setdefault(application.layer, []).append(i)
        return {
            name: _Rows(
                self._entry(name, X[at[0]].kind), Laid.of([X[i] for i in at]), y[at], of_piece[at]
            )
            for name, at in where.items()
        }

    def _entry(self, name: str, kind: Kind) -> Layer:
        return (self.shelf or {}).get(name) or Layer(name, kind)

    def _belief(self, layer: Layer) -> Belief:
        first = first_belief(layer)
        departure = self.departures_.get(layer.kind)
        return informed(first, departure) if departure else first

    def _learn(self, rows: _Rows, belief: Belief, scatter: Scatter) -> LearnedLayer:
        fit = fit_layer(rows.laid, rows.after, belief, scatter, self.reading_noise)
        learned = LearnedLayer(belief, fit, scatter, None, len(rows.laid), fit.strangeness)
        if not self.with_remainder:
            return learned
        law = lay(fit.theta, rows.laid)
        remainder = learn_remainder(fit.theta, rows.laid, law, rows.after, rows.pieces)
        if remainder is None:
            return learned
        repeats = replace(scatter, misfit=0.0)
        laid, after = rows.laid.only(remainder.rows), rows.after[remainder.rows]
        covariance = remainder.variances[:, :, None] * np.eye(3) + row_covariance(
            slopes(fit.theta, laid), local_metric(after), repeats, self.reading_noise
        )
        pulled = np.linalg.solve(covariance, remainder.errors[:, :, None])[:, :, 0]
        strangeness = (remainder.errors * pulled).sum(axis=1)
        return replace(learned, remainder=remainder, scatter=repeats, strangeness=strangeness)

    def known(self, name: str, kind: Kind) -> LearnedLayer:
        """What is known of a layer: from its trials, else from the shelf and its kind."""
        if name in self.layers_:
            return self.layers_[name]
        belief = self._belief(self._entry(name, kind))
        nothing = np.empty(0)
        empty = Laid(np.empty((0, 3)), nothing, nothing, nothing, nothing)
        fit = fit_layer(empty, np.empty((0, 3)), belief, self.workshop_, self.reading_noise)
        return LearnedLayer(belief, fit, self.workshop_, None, 0, fit.strangeness)


def _widening(layers: Mapping[str, LearnedLayer]) -> float:
    """Factor on the model's variances that makes its left-out trials as strange as they should be.

    By quantiles, which a few mistyped trials hardly move, leaning on 1 as far as trials are few.
    """
    rows = np.concatenate([known.strangeness for known in layers.values()] or [np.empty(0)])
    if len(rows) == 0:
        return 1.0
    ratios = np.quantile(rows, QUANTILES) / chi2.ppf(QUANTILES, 3)
    change = float(np.log(ratios).mean())
    # Trials predicted from their neighbours flatter: narrowing takes more of them than widening.
    doubt = ROWS_TO_WIDEN if change > 0.0 else ROWS_TO_NARROW
    return float(np.exp(change * len(rows) / (len(rows) + doubt)))


def _departures(
    rows: Mapping[str, _Rows], firsts: Mapping[str, Belief], fits: Mapping[str, LayerFit]
) -> dict[Kind, Departure]:
    kinds: dict[Kind, list[tuple[Belief, LayerFit]]] = {}
    for name, r in rows.items():
        kinds.setdefault(r.layer.kind, []).append((firsts[name], fits[name]))
    return {kind: common_departure(pairs) for kind, pairs in kinds.items()}


def fit_trials(
    trials: Sequence[Trial], shelf: Mapping[str, Layer], **parameters: float | bool
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
