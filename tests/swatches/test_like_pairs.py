"""With the card alone, the difference of two like areas is right (rendered pairs, known truth)."""

import numpy as np
import pytest

from tests.measure import demo_accuracy


@pytest.mark.proof
def test_compared_difference_is_right_at_the_median() -> None:
    # 0.5 CIEDE2000 is this project's own requirement, no source.
    pairs = demo_accuracy.like_pairs(each=5)
    assert {pair.camera for pair in pairs} == set(demo_accuracy.CAMERAS)
    assert max(pair.true for pair in pairs) > 4.0
    assert np.median([abs(pair.error) for pair in pairs]) <= 0.5
