"""How much a hand varies: found near the truth, and believed where nothing is known."""

import numpy as np
import pytest

from tests.toning.strips import afters, applications, make_strips
from tonematch.toning.core import Layer
from tonematch.toning.model.fit import fit_layer
from tonematch.toning.model.prior import Scatter, first_belief
from tonematch.toning.model.variance_components import (
    EXPECTED,
    FittedRows,
    pool_scatter,
    weigh_scatter,
)
from tonematch.toning.optics.film import Laid


def rows(n: int, hand: float, seed: int = 0) -> FittedRows:
    trials = make_strips(n, hand=hand, noise=0.4, seed=seed)
    laid, after, belief = (
        Laid.of(applications(trials)),
        afters(trials),
        first_belief(Layer("brown", "glaze")),
    )
    return FittedRows(laid, after, belief, fit_layer(laid, after, belief, EXPECTED, 0.4))


def pooled(layers: dict[str, FittedRows]) -> tuple[Scatter, dict[str, Scatter]]:
    return pool_scatter({name: weigh_scatter(own, 0.4) for name, own in layers.items()})


@pytest.mark.parametrize("hand", [0.05, 0.15, 0.3])
def test_hand_is_found_with_enough_trials(hand: float) -> None:
    found = [pooled({"brown": rows(60, hand, s)})[1]["brown"] for s in range(3)]
    assert np.mean([f.hand for f in found]) == pytest.approx(hand, rel=0.3)
    # The law is exact here: readings differ from it by the hand and by noise alone.
    assert np.mean([f.misfit for f in found]) < 0.4


def test_without_trials_the_workshop_is_as_expected() -> None:
    workshop, by_layer = pooled({})
    assert by_layer == {}
    assert workshop.hand == pytest.approx(EXPECTED.hand, rel=0.2)
    assert workshop.misfit == pytest.approx(EXPECTED.misfit, rel=0.3)


def test_a_layer_with_few_trials_leans_on_the_workshop() -> None:
    layers = {"steady 1": rows(40, 0.05, 1), "steady 2": rows(40, 0.05, 2), "new": rows(2, 0.3, 3)}
    workshop, by_layer = pooled(layers)
    alone = pooled({"new": layers["new"]})[1]["new"]
    assert workshop.hand < EXPECTED.hand
    assert by_layer["new"].hand < alone.hand
