"""What tests of several commands start from."""

import shutil
from pathlib import Path

import pytest

from tests.logbook.whole_logbook import make_whole, rows
from tonematch.measure.core import Calibration, Comparison
from tonematch.toning.core import Proposal, Trial


@pytest.fixture(scope="session")
def whole(
    tmp_path_factory: pytest.TempPathFactory,
    trial: Trial,
    comparison: Comparison,
    calibration: Calibration,
    proposal: Proposal,
) -> Path:
    """A folder with a logbook in which every table has rows: made once, to be copied."""
    folder = tmp_path_factory.mktemp("whole")
    make_whole(folder / "book.sqlite", trial, comparison, calibration, proposal)
    assert all(rows(folder / "book.sqlite").values())  # or a table would go untried
    return folder


@pytest.fixture
def book(whole: Path, tmp_path: Path) -> Path:
    """A logbook in which every table has rows; modules that need another have their own."""
    shutil.copytree(whole, tmp_path, dirs_exist_ok=True)
    return tmp_path / "book.sqlite"
