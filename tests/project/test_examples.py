"""Examples in docstrings give what they say."""

import doctest
from importlib import import_module
from pathlib import Path

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
    found = doctest.testmod(import_module(name))
    assert found.attempted
    assert not found.failed
