"""The layer model: physics first, fitted to trials, with a distribution for every prediction."""

from collections.abc import Container, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, Self

import numpy as np
from threadpoolctl import threadpool_limits

from tonematch.arrays import Array, Matrix3
from tonematch.toning.core import Application, Kind, Layer, Prediction, Trial
from tonematch.toning.layers.taking_back import with_beneath
from tonematch.toning.model.fit import LayerFit, fit_layer
from tonematch.toning.model.fitted_layer import (
    LayerTrials,
    LearnedLayer,
    Memory,
    fit_law,
    learn_layer,
    never_laid,
)
from tonematch.toning.model.hierarchy import (
    EXPECTED,
    informed,
    kind_effects,
    pool_components,
    weigh_components,
)
from tonematch.toning.model.prior import Prior, first_prior
from tonematch.toning.model.recalibration import (
    LeftOut,
    Recalibration,
    recalibrate,
    without_some_pieces,
)
from tonematch.toning.model.residual_process import learn_smoothness
from tonematch.toning.optics.film import Laid

# Standard deviation of each of L*, a*, b* of a reading where nobody stated it: a choice of this
# project, near what readings of demonstration photographs show.
READING_NOISE = 0.4


@dataclass(eq=False)
class LayerModel:
    """What each layer does to a surface of any colour, learned from trials.

    It keeps scikit-learn's contract, so that its validation works here, without waiting for that
    library: parameters in the constructor, `get_params` and `set_params`, `fit` and `predict`,
    fitted values end in an underscore.

    Parameters
    ----------
    shelf : mapping from name to Layer, optional
        Entries from which K and S start. Layers outside it start from their kind.
    reading_noise : float, default 0.4
        Standard deviation of each of L*, a*, b* of a reading of which nothing else is known,
        above 0.
    recalibration : Recalibration, optional
        Factors on the variances where they are known already; found by leaving out pieces by
        default.
    memory : Memory, optional
        Fits of layers that were made before: one trial more then costs the fit of its layer and
        of those that it teaches. What is learned does not hang
        on it.
    bench : str, optional
        Whose hand is foretold: what is laid there scatters in its own way, which leans on that of
        all benches as far as its trials are few. That of all unless given.
    """

    shelf: Mapping[str, Layer] | None = None
    reading_noise: float = READING_NOISE
    recalibration: Recalibration | None = None
    memory: Memory | None = None
    bench: str = ""

    def get_params(self, deep: bool = True) -> dict[str, Any]:  # noqa: ARG002
        """Parameters of the constructor by name."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    def set_params(self, **params: Any) -> Self:
        """Change parameters of the constructor."""
        for name, value in params.items():
            setattr(self, name, value)
        return self

    def __sklearn_tags__(self) -> Any:
        """What scikit-learn asks of an estimator before it validates it."""
        from sklearn.base import BaseEstimator

        return BaseEstimator().__sklearn_tags__()

    def fit(
        self,
        X: Sequence[Application],
        y: Array,
        pieces: Sequence[str] | None = None,
        benches: Sequence[str] | None = None,
        readings: Sequence[tuple[Matrix3 | None, Matrix3 | None]] | None = None,
    ) -> Self:
        """Learn from trials, in whatever order they come.

        `y`, (n, 3), is CIELAB (D50, 2 degree) read after each. `pieces` tell on which piece each
        was laid: a residual process must hold on pieces that it was not learned from; `benches`
        where each was logged, `readings` the covariances of the reading before and of that after:
        `reading_noise` where it is None.
        """
        self.benches_ = np.array(["" for _ in X] if benches is None else benches, dtype=np.str_)
        self.memory_ = Memory() if self.memory is None else self.memory
        self.__dict__.pop("recalibration_", None)
        # Many small matrices: threads of the linear algebra would only wait for each other.
        with threadpool_limits(limits=1, user_api="blas"):
            after = np.asarray(y, dtype=float).reshape(-1, 3)
            return self._learn(self._rows(X, after, pieces, readings or [(None, None)] * len(X)))

    def _learn(
        self, trials: Mapping[str, LayerTrials], asked: Container[str] | None = None
    ) -> Self:
        """Learn each layer that is asked for from its trials, its kind and the workshop."""
        recall = self.memory_.recall
        self.trials_ = dict(trials)
        alone = {name: recall(_fit_alone, own) for name, own in trials.items()}
        self.kinds_ = kind_effects(trials, alone)
        priors = {name: self._prior(own.layer) for name, own in trials.items()}
        evidence = {
            name: recall(weigh_components, own, alone[name], priors[name])
            for name, own in trials.items()
        }
        self.workshop_, components = pool_components(evidence)
        laws = {
            name: recall(fit_law, own, priors[name], components[name], alone[name])
            for name, own in trials.items()
        }
        self.smoothness_ = recall(learn_smoothness, *(law.rows for law in laws.values()))
        self.layers_ = {
            name: recall(learn_layer, law, self.smoothness_)
            for name, law in laws.items()
            if asked is None or name in asked
        }
        return self

    @cached_property
    def recalibration_(self) -> Recalibration:
        """Factors on the variances that left-out pieces call for; found when first asked for."""
        if self.recalibration is not None:
            return self.recalibration
        with threadpool_limits(limits=1, user_api="blas"):
            parts = [*self._left_out()]
        if not parts:
            return Recalibration()
        out = LeftOut.of(parts)
        return recalibrate(out, self.benches_[out.place] == self.bench if self.bench else None)

    def _left_out(self) -> Iterator[LeftOut]:
        """Trials beside what models foretell that were not told of their pieces, layer by layer."""
        for learn, test in without_some_pieces(self.trials_):
            other = replace(self, recalibration=Recalibration())
            other.memory_ = self.memory_
            other._learn(learn, asked=test)
            for name, own in test.items():
                before, after = other.smoothness_.noise * own.noise.swapaxes(0, 1)
                known = other.known(own.layer)
                told = known.foretell(own.laid)
                yield LeftOut(
                    np.full(len(own), name),
                    own.places,
                    own.after - told.lab,
                    after + told.carried(before) + told.misfit,
                    told.hand,
                    told.unknown,
                    np.full(len(own), known.freedom),
                )

    def with_layers(self, more: Mapping[str, LearnedLayer]) -> "LayerModel":
        """A model that knows further layers too; those that this one knows stay as they are."""
        self.recalibration_  # noqa: B018 - found once for both
        wider = copy(self)
        wider.layers_ = {**more, **self.layers_}
        return wider

    def predict(self, X: Sequence[Application]) -> Array:
        """CIELAB expected after each application, shape (n, 3)."""
        labs = [self.predict_distribution(a).lab for a in X]
        return np.array(labs, dtype=np.float64).reshape(-1, 3)

    def predict_distribution(
        self,
        application: Application,
        before_covariance: Array | None = None,
        after_covariance: Array | None = None,
    ) -> Prediction:
        """What the next photograph should read after one application, with the reading's own noise.

        The covariances, shape (3, 3), are those of `application.before` and of that photograph's
        own reading; a reading's noise where they are not given.
        """
        a, noise = application, self.reading_covariance_
        layer = self.entry(a.layer, a.kind)
        before, after = (noise if c is None else c for c in (before_covariance, after_covariance))
        (lab,), (covariance,) = self.predict_layer(layer, Laid.of([a]), before)
        return Prediction(lab, covariance + after, self.known(layer).freedom)

    @property
    def reading_covariance_(self) -> Array:
        """Covariance of a reading's own noise, as trials bear it out; shape (3, 3)."""
        return np.asarray(self.smoothness_.noise * self.reading_noise**2 * np.eye(3))

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """The surface after one layer, on many surfaces and in many amounts at once.

        Every other prediction is made of this one.

        Parameters
        ----------
        layer : Layer
            Its entry counts where neither trials nor shelf know it.
        laid : Laid
            n applications of it.
        covariance : ndarray, shape (n, 3, 3) or (3, 3)
            Of `laid.before`.

        Returns
        -------
        lab : ndarray, shape (n, 3)
        covariance : ndarray, shape (n, 3, 3)
            Of the surface itself; a reading of it adds its own noise.
        """
        told, times = self.known(layer).foretell(laid), self.recalibration_
        unknown = told.misfit + times.of(layer.name) * told.unknown
        return told.lab, told.carried(covariance) + times.hand * told.hand + unknown

    def _rows(
        self,
        X: Sequence[Application],
        y: Array,
        pieces: Sequence[str] | None,
        readings: Sequence[tuple[Matrix3 | None, Matrix3 | None]],
    ) -> dict[str, LayerTrials]:
        """Trials by layer, in an order of their own: any other order teaches the same."""
        of_piece = np.array(pieces if pieces is not None else ["" for _ in X])
        usual = self.reading_noise**2 * np.eye(3)
        noise = np.array([[usual if one is None else one for one in both] for both in readings])
        where: dict[str, list[int]] = {}
        for i, a in enumerate(X):
            if a.kind == "lift" and a.under is None:  # nobody read what it should have bared
                continue
            where.setdefault(a.layer, []).append(i)

        def order(i: int) -> tuple[object, ...]:
            a = X[i]
            lab = (*map(float, a.before), *map(float, y[i]))
            on = a.technique, a.finish, a.over or ""
            return (of_piece[i], a.strength, a.coats, *on, lab, float(noise[i].sum()))

        rows = {}
        for name in sorted(where):
            at = sorted(where[name], key=order)
            layer, laid = self.entry(name, X[at[0]].kind), Laid.of([X[i] for i in at])
            rows[name] = LayerTrials(layer, laid, y[at], noise[at], of_piece[at], np.array(at))
        return rows

    def entry(self, name: str, kind: Kind) -> Layer:
        """The shelf's entry for a layer, or one of which only the kind is known."""
        return (self.shelf or {}).get(name) or Layer(name, kind)

    def _prior(self, layer: Layer) -> Prior:
        first, effect = first_prior(layer), self.kinds_.get(layer.kind)
        return informed(first, effect) if effect else first

    def known(self, layer: Layer) -> LearnedLayer:
        """What is known of a layer: from its trials, else from the shelf and its kind."""
        if layer.name in self.layers_:
            return self.layers_[layer.name]
        entry = (self.shelf or {}).get(layer.name, layer)
        beside = self._prior(entry), self.workshop_, self.smoothness_
        return self.memory_.recall(never_laid, entry, *beside)

    def freedom_of(self, layer: Layer) -> float:
        """Degrees of freedom of what is predicted of a layer: few where its trials are few."""
        return self.known(layer).freedom

    @property
    def tried(self) -> frozenset[str]:
        """Names of the layers that it has trials of."""
        return frozenset(name for name, known in self.layers_.items() if known.trials)


def _fit_alone(trials: LayerTrials) -> LayerFit:
    """What a layer's trials say while only the shelf and no other layer is known."""
    first = first_prior(trials.layer)
    return fit_layer(trials.laid, trials.after, first, EXPECTED, trials.noise)


def fit_trials(
    trials: Sequence[Trial], shelf: Mapping[str, Layer], **parameters: Any
) -> LayerModel:
    """A layer model of these trials, with these parameters of LayerModel."""
    trials, model = with_beneath(trials), LayerModel(shelf, **parameters)
    after = np.array([t.after for t in trials], dtype=np.float64).reshape(-1, 3)
    pieces, benches = [t.piece for t in trials], [t.bench for t in trials]
    readings = [(t.before_covariance, t.after_covariance) for t in trials]
    return model.fit([t.application for t in trials], after, pieces, benches, readings)
