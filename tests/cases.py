"""Which cases of a test a newcomer runs too, and how many hypothesis draws of each stratum."""

from collections.abc import Sequence
from functools import partial
from typing import Any

import pytest
from hypothesis import settings

LEAST = 2
# A parametrised case that CI alone runs, among the long proofs.
in_ci = partial(pytest.param, marks=pytest.mark.proof)


def few_of(cases: Sequence[Any], few: int = LEAST) -> list[Any]:
    """Cases of which CI alone runs all but the first few; one of several arguments is a tuple."""
    others = (case if isinstance(case, tuple) else (case,) for case in cases[few:])
    return [*cases[:few], *(in_ci(*case) for case in others)]


def shared_by(strata: int) -> settings:
    """The cases of the profile in use (tests/conftest.py), shared among parametrised strata.

    A test whose one case is long takes a part of them, as if it had so many strata.
    """
    return settings(max_examples=max(LEAST, settings().max_examples // strata))
