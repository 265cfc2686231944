"""Which cases of a test a newcomer runs too, and how many hypothesis draws of each stratum."""

from functools import partial

import pytest
from hypothesis import settings

LEAST = 2
# A parametrised case that CI alone runs, among the long proofs.
in_ci = partial(pytest.param, marks=pytest.mark.proof)


def shared_by(strata: int) -> settings:
    """The cases of the profile in use (tests/conftest.py), shared among parametrised strata.

    A test whose one case is long takes a part of them, as if it had so many strata.
    """
    return settings(max_examples=max(LEAST, settings().max_examples // strata))
