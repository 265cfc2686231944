"""The local metric of CIEDE2000: against colour-science's CIEDE2000 itself."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.measure.colour.difference import local_metric

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message=".*Matplotlib.*")
    import colour

gilding = st.tuples(st.floats(15.0, 95.0), st.floats(2.0, 25.0), st.floats(5.0, 50.0))
step = st.tuples(*(st.floats(-1.0, 1.0),) * 3).filter(lambda d: np.linalg.norm(d) > 0.1)


@given(lab=gilding, d=step)
def test_small_steps_have_the_ciede2000_of_the_metric(
    lab: tuple[float, float, float], d: tuple[float, float, float]
) -> None:
    centre, small = np.array(lab), 0.05 * np.array(d)
    expected = float(colour.delta_E(centre - small / 2, centre + small / 2, method="CIE 2000"))
    g = local_metric(centre[None])[0]
    assert np.sqrt(small @ g @ small) == pytest.approx(expected, rel=0.02)


@given(lab=gilding)
def test_metric_is_symmetric_and_positive(lab: tuple[float, float, float]) -> None:
    g = local_metric(np.array(lab)[None])[0]
    np.testing.assert_array_equal(g, g.T)
    assert np.linalg.eigvalsh(g).min() > 0.0


# CIEDE2000 (ISO/CIE 11664-6): S_L = 1 + 0.015 (L - 50)^2 / sqrt(20 + (L - 50)^2), mean lightness;
# worked by hand for a grey, where a step in L* alone has dE = dL / S_L.
@pytest.mark.parametrize(("L", "S_L"), [(50.0, 1.0), (60.0, 1.136931), (80.0, 1.445082)])
def test_lightness_of_a_grey_is_weighed_by_s_l(L: float, S_L: float) -> None:
    g = local_metric(np.array([[L, 0.0, 0.0]]))[0]
    assert g[0, 0] == pytest.approx(S_L**-2, rel=1e-4)


def test_many_colours_at_once() -> None:
    labs = np.array([[90.0, 8.0, 35.0], [60.0, 10.0, 30.0]])
    both = local_metric(labs)
    assert both.shape == (2, 3, 3)
    np.testing.assert_allclose(both[1], local_metric(labs[1:])[0])
