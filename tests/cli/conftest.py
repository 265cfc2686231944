"""What tests of several commands start from."""

from pathlib import Path

import pytest

from tests.logbook.whole_logbook import make_whole
from tonematch.measure.core import Calibration, Comparison
from tonematch.toning.core import Proposal, Trial


@pytest.fixture
def book(
    tmp_path: Path,
    trial: Trial,
    comparison: Comparison,
    calibration: Calibration,
    proposal: Proposal,
) -> Path:
    """A logbook in which every table has rows; modules that need another have their own."""
    path = tmp_path / "book.sqlite"
    make_whole(path, trial, comparison, calibration, proposal)
    return path
