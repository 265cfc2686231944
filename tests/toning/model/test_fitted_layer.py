"""Pieces are dealt to parts as scikit-learn deals groups."""

import numpy as np
import pytest
from sklearn.model_selection import GroupKFold

from tonematch.toning.model.fitted_layer import folds_by_piece


@pytest.mark.parametrize(("pieces", "most"), [("abbcccacdde", 3), ("edcba", 9), ("ab" * 7, 2)])
def test_folds_are_those_of_scikit_learn(pieces: str, most: int) -> None:
    found = list(folds_by_piece(list(pieces), most))
    parts = min(most, len(set(pieces)))
    expected = GroupKFold(parts).split(np.zeros(len(pieces)), groups=list(pieces))
    for (learn, held_out), (their_learn, their_held_out) in zip(found, expected, strict=True):
        np.testing.assert_array_equal(learn, their_learn)
        np.testing.assert_array_equal(held_out, their_held_out)


def test_trials_of_one_piece_are_left_out_one_by_one() -> None:
    assert [held_out.tolist() for _, held_out in folds_by_piece(["a"] * 3, 5)] == [[2], [1], [0]]
    assert list(folds_by_piece(["a"], 5)) == []
