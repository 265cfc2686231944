"""Trials made by the film law itself, so that tests know what a fit should find. Invented."""

import numpy as np
from numpy.typing import NDArray

from tonematch.toning.core import Application, Kind, Trial
from tonematch.toning.optics import film

Array = NDArray[np.float64]

GROUNDS = np.array([[90.9, 7.9, 34.8], [82.0, 9.0, 36.0], [70.0, 11.0, 33.0], [60.0, 9.0, 26.0]])


def known_theta(kind: Kind = "glaze") -> Array:
    """A brown film, laid evenly, whose thickness goes with strength."""
    theta = np.zeros(film.PARAMETERS)
    theta[film.LN_K] = np.log([0.35, 0.5, 0.9])
    theta[film.LN_S] = np.log([0.04, 0.05, 0.06] if kind == "glaze" else [0.12, 0.15, 0.18])
    theta[film.LOGIT_PHI] = -8.0
    return theta


def make_strips(
    n: int,
    *,
    theta: Array | None = None,
    layer: str = "brown",
    kind: Kind = "glaze",
    hand: float = 0.0,
    noise: float = 0.0,
    seed: int = 0,
) -> list[Trial]:
    """n trials of one layer over four grounds and four strengths, each on its own piece."""
    rng = np.random.default_rng(seed)
    theta = known_theta(kind) if theta is None else theta
    trials = []
    for i in range(n):
        before, strength = GROUNDS[i % 4] + rng.normal(0.0, 1.0, 3), 0.25 * (1 + (i // 4) % 4)
        true = Application(before, layer, kind, strength)
        after = film.lay(theta, film.Laid.of([true]), hand * rng.standard_normal())[0]
        seen = Application(before + noise * rng.standard_normal(3), layer, kind, strength)
        trials.append(Trial(seen, after + noise * rng.standard_normal(3), f"piece {i}"))
    return trials


def afters(trials: list[Trial]) -> Array:
    """CIELAB read after each, shape (n, 3)."""
    return np.array([t.after for t in trials], dtype=np.float64).reshape(-1, 3)


def applications(trials: list[Trial]) -> list[Application]:
    """The application of each."""
    return [t.application for t in trials]
