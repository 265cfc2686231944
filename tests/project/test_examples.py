"""Examples in docstrings give what they say."""

import doctest
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

import tonematch

PACKAGE = Path(tonematch.__file__).parent
WITH_EXAMPLES = [
    ".".join(("tonematch", *path.relative_to(PACKAGE).with_suffix("").parts))
    for path in sorted(PACKAGE.rglob("*.py"))
    if ">>>" in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_run(name: str) -> None:
    # colour-science, wherever it was imported, has arrays printed as NumPy 1.13 did.
    with np.printoptions(legacy=False):
        found = doctest.testmod(import_module(name))
    assert found.attempted
    assert not found.failed
