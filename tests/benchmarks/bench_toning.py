"""Time to fit 2,000 trials of 40 layers, beside a plain Gaussian process on the same rows.

And the time to learn one trial more, beside fitting all of them.

Run ``python -m tests.benchmarks.bench_toning`` from the root with nothing else running. The
reference is scikit-learn's GaussianProcessRegressor with an anisotropic RBF, as it comes: its own
optimiser, no restarts. All trials are invented.
"""

import argparse
import time
import warnings
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, WhiteKernel

from tonematch.toning.core import KINDS, Application, Layer, Trial
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.optics import film

Array = NDArray[np.float64]

LAYERS = 40
LEAST_GAIN = 8.0
MOST_GROWTH = 12.0


def workshop_life(n: int, seed: int = 0) -> list[Trial]:
    """n trials of 40 layers over the six kinds, made by the film law with scatter and noise."""
    rng = np.random.default_rng(seed)
    thetas = np.zeros((LAYERS, film.PARAMETERS))
    thetas[:, film.LN_K] = np.log(0.4) + rng.normal(0.0, 0.7, (LAYERS, 3))
    thetas[:, film.LN_S] = np.log(0.08) + rng.normal(0.0, 0.7, (LAYERS, 3))
    thetas[:, film.LOGIT_PHI] = -2.0
    trials = []
    for i in range(n):
        which = i % LAYERS
        before = np.array([75.0, 9.0, 32.0]) + rng.normal(0.0, 1.0, 3) * (9.0, 3.0, 5.0)
        strength = float(rng.choice([0.25, 0.5, 0.75, 1.0]))
        a = Application(before, f"layer {which}", KINDS[which % 6], strength)
        hand = 0.15 * rng.standard_normal()
        after = film.lay(thetas[which], film.Laid.of([a]), hand)[0] + rng.normal(0.0, 0.4, 3)
        trials.append(Trial(a, after, f"piece {i // 8}"))
    return trials


def features(trials: list[Trial]) -> Array:
    """CIELAB before, amount, and one column for each layer."""
    names = sorted({t.application.layer for t in trials})
    rows = [
        [*t.application.before / 25.0, t.application.strength * t.application.coats]
        + [float(t.application.layer == name) for name in names]
        for t in trials
    ]
    return np.array(rows)


def fit_reference(trials: list[Trial]) -> None:
    """One anisotropic process on the three shifts."""
    X = features(trials)
    shift = np.array([t.after - t.application.before for t in trials])
    kernel = ConstantKernel(25.0) * RBF(np.ones(X.shape[1]), (0.1, 100.0)) + WhiteKernel(1.0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        GaussianProcessRegressor(kernel).fit(X, shift - shift.mean(axis=0))


def seconds(work: Callable[[], object]) -> float:
    """Wall time of one run."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Time both and print the ratios."""
    parser = argparse.ArgumentParser(description="Time to learn a workshop's life of trials.")
    parser.add_argument("--trials", type=int, default=2000)
    parser.add_argument("--no-reference", action="store_true", help="only the layer model")
    arguments = parser.parse_args()
    n: int = arguments.trials
    trials, many = workshop_life(n), workshop_life(10 * n)
    shelf: dict[str, Layer] = {}
    small = seconds(lambda: fit_trials(trials, shelf))
    print(f"layer model, {n} trials of {LAYERS} layers: {small:.1f} s", flush=True)
    memory = Memory()
    fit_trials(trials[:-1], shelf, memory=memory)
    one = seconds(lambda: fit_trials(trials, shelf, memory=memory))
    print(f"one trial more: {one:.2f} s, 1/{small / one:.0f} of fitting all", flush=True)
    large = seconds(lambda: fit_trials(many, shelf))
    print(
        f"layer model, {10 * n} trials: {large:.1f} s, {large / small:.1f} times as long "
        f"(at most {MOST_GROWTH:.0f})",
        flush=True,
    )
    if not arguments.no_reference:
        reference = seconds(lambda: fit_reference(trials))
        print(
            f"Gaussian process, {n} trials: {reference:.1f} s, {reference / small:.1f} times the "
            f"layer model's (at least {LEAST_GAIN:.0f})"
        )


if __name__ == "__main__":
    main()
