"""How many cases hypothesis draws of each stratum, so that none is left to chance."""

from hypothesis import settings

LEAST = 2


def shared_by(strata: int) -> settings:
    """The cases of the profile in use (tests/conftest.py), shared among parametrised strata.

    A test whose one case is long takes a part of them, as if it had so many strata.
    """
    return settings(max_examples=max(LEAST, settings().max_examples // strata))
