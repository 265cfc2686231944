"""The plainer ways to predict, each on a case small enough to be worked by hand."""

import numpy as np
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import cross_val_predict

from tests.toning.strips import afters, applications, make_strips
from tonematch.toning.core import Application, Kind
from tonematch.toning.validation.baselines import (
    MeanShift,
    Nearest,
    NoChange,
    PlainGaussianProcess,
    amounts,
    befores,
)


def laid(
    layer: str, before: tuple[float, float, float], strength: float, coats: int = 1
) -> Application:
    kind: Kind = "wash"
    return Application(np.array(before), layer, kind, strength, coats)


X = [
    laid("umber", (90.0, 8.0, 35.0), 0.5),
    laid("umber", (70.0, 8.0, 30.0), 1.0),
    laid("wax", (80.0, 9.0, 33.0), 0.5),
]
Y = np.array([[86.0, 8.0, 33.0], [62.0, 7.0, 26.0], [79.0, 9.0, 33.0]])


def test_what_the_rows_say() -> None:
    np.testing.assert_array_equal(befores(X)[1], [70.0, 8.0, 30.0])
    np.testing.assert_array_equal(amounts([*X, laid("wax", (0, 0, 0), 0.25, 3)])[-1], 0.75)


def test_no_change() -> None:
    np.testing.assert_array_equal(NoChange().fit(X, Y).predict(X), befores(X))


def test_mean_shift_of_each_layer_and_of_all() -> None:
    fresh = [laid("umber", (80.0, 8.0, 30.0), 0.1), laid("dust", (80.0, 8.0, 30.0), 0.1)]
    # Umber: mean of (-4, 0, -2) and (-8, -1, -4). All three: with (-1, 0, 0).
    expected = [[74.0, 7.5, 27.0], [80.0 - 13.0 / 3.0, 8.0 - 1.0 / 3.0, 28.0]]
    np.testing.assert_allclose(MeanShift().fit(X, Y).predict(fresh), expected)


def test_nearest_takes_the_shift_of_the_likest_trial_of_the_same_layer() -> None:
    # (79, 8.5, 33) lies nearest to the wax, but only umber counts for umber.
    fresh = [laid("umber", (79.0, 8.5, 33.0), 0.95), laid("dust", (79.0, 8.5, 33.0), 0.5)]
    found = Nearest().fit(X, Y).predict(fresh)
    np.testing.assert_allclose(found, [[71.0, 7.5, 29.0], [78.0, 8.5, 33.0]])


def test_plain_gaussian_process_meets_its_trials_and_returns_to_the_mean() -> None:
    trials = make_strips(16)
    process = PlainGaussianProcess().fit(applications(trials), afters(trials))
    near = process.predict(applications(trials))
    assert np.abs(near - afters(trials)).mean() < 0.5
    far = Application(np.array([-5000.0, 0.0, 0.0]), "brown", "glaze", 1.0)
    np.testing.assert_allclose(process.predict([far])[0] - far.before, process.centre_, atol=1e-6)


@pytest.mark.parametrize("method", [NoChange(), MeanShift(), Nearest(), PlainGaussianProcess()])
def test_scikit_learn_contract(method: NoChange | MeanShift | Nearest) -> None:
    trials = make_strips(12)
    again = clone(method)
    assert again.get_params() == method.get_params()
    held = cross_val_predict(again, applications(trials), afters(trials), cv=3)
    assert held.shape == (12, 3)
    assert np.isfinite(held).all()


@pytest.mark.parametrize("method", [MeanShift(), Nearest(), PlainGaussianProcess()])
def test_nothing_is_learned_before_fit(method: MeanShift | Nearest) -> None:
    with pytest.raises((NotFittedError, AttributeError)):
        method.predict(X)
