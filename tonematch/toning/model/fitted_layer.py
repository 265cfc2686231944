"""What one layer's trials teach: a fit, its scatter, and what the film law leaves."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.colour.local_metric import local_metric
from tonematch.toning.core import Layer
from tonematch.toning.model.fit import LayerFit, fit_layer, row_covariance, slopes
from tonematch.toning.model.mahalanobis import squared_distance
from tonematch.toning.model.prior import Belief, Scatter
from tonematch.toning.model.residual_process import Remainder, learn_remainder
from tonematch.toning.optics.film import Laid, lay

Array = NDArray[np.float64]

# Found on simulated logbooks and on measured overprints.
FEWEST_FREEDOM = 3.0


@dataclass(frozen=True, eq=False)
class LayerTrials:
    """The trials of one layer.

    Attributes
    ----------
    layer : Layer
    laid : Laid
        n applications.
    after : ndarray, shape (n, 3)
        CIELAB (D50, 2 degree) read after each.
    pieces : ndarray of str, shape (n,)
    """

    layer: Layer
    laid: Laid
    after: Array
    pieces: NDArray[np.str_]

    def __len__(self) -> int:
        return len(self.laid)

    def only(self, rows: NDArray[np.intp]) -> "LayerTrials":
        """Some of them."""
        return LayerTrials(self.layer, self.laid.only(rows), self.after[rows], self.pieces[rows])

    def and_also(self, more: "LayerTrials") -> "LayerTrials":
        """These, and more of the same layer."""
        return LayerTrials(
            self.layer,
            self.laid.and_also(more.laid),
            np.concatenate([self.after, more.after]),
            np.concatenate([self.pieces, more.pieces]),
        )


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

    @property
    def freedom(self) -> float:
        """Degrees of freedom of what is predicted: few trials leave its scale uncertain too."""
        return FEWEST_FREEDOM + self.trials**2 / 2.0


def learn_layer(
    trials: LayerTrials,
    belief: Belief,
    scatter: Scatter,
    reading_noise: float,
    with_remainder: bool = True,
) -> LearnedLayer:
    """Fit the film law to a layer's trials, and what is left over where that can be predicted.

    Parameters
    ----------
    trials : LayerTrials
    belief : Belief
    scatter : Scatter
    reading_noise : float
        Standard deviation of each of L*, a*, b* of a reading, above 0.
    with_remainder : bool
        Whether a Gaussian process may be laid on top.

    Returns
    -------
    LearnedLayer
    """
    laid, after = trials.laid, trials.after
    fit = fit_layer(laid, after, belief, scatter, reading_noise)
    learned = LearnedLayer(belief, fit, scatter, None, len(trials), fit.strangeness)
    if not with_remainder:
        return learned
    law = lay(fit.theta, laid)
    remainder = learn_remainder(fit.theta, laid, law, after, trials.pieces)
    if remainder is None:
        return learned
    repeats = replace(scatter, misfit=0.0)
    laid, after = laid.only(remainder.rows), after[remainder.rows]
    covariance = remainder.variances[:, :, None] * np.eye(3) + row_covariance(
        slopes(fit.theta, laid), local_metric(after), repeats, reading_noise
    )
    strangeness = squared_distance(remainder.errors, covariance)
    return replace(learned, remainder=remainder, scatter=repeats, strangeness=strangeness)


def never_laid(belief: Belief, scatter: Scatter) -> LearnedLayer:
    """What is known of a layer without trials."""
    nothing = np.empty(0)
    empty = Laid(np.empty((0, 3)), nothing, nothing, nothing, nothing)
    # Without a row there is no noise to weigh.
    fit = fit_layer(empty, np.empty((0, 3)), belief, scatter, reading_noise=1.0)
    return LearnedLayer(belief, fit, scatter, None, 0, fit.strangeness)
