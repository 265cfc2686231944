"""What the tests of several pages start from."""

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from streamlit.components.v2 import manifest_scanner

from tests.screens.hand import chromium
from tests.screens.served import Server, serve
from tonematch.logbook.core import Piece
from tonematch.logbook.store import open_logbook
from tonematch.measure.core import Comparison


@pytest.fixture(scope="session", autouse=True)
def _packages_are_scanned_once() -> Iterator[None]:
    """Every AppTest looks through all installed packages for components of theirs."""
    found = manifest_scanner.scan_component_manifests()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(manifest_scanner, "scan_component_manifests", lambda: found)
        yield


@pytest.fixture(scope="session")
def compared(tmp_path_factory: pytest.TempPathFactory, comparison: Comparison) -> Path:
    """A logbook with one piece that was compared, and no trials: made once, to be copied."""
    path = tmp_path_factory.mktemp("compared") / "logbook.sqlite"
    with open_logbook(path) as logbook:
        logbook.add_piece(Piece("hall mirror", "water", "burnished", bole="red"))
        logbook.keep_comparison("hall mirror", comparison)
    return path


@pytest.fixture
def logbook_file(compared: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of that logbook, which the app opens."""
    path = Path(shutil.copy(compared, tmp_path))
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    return path


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """A running bench with an empty logbook."""
    with serve(tmp_path) as running:
        yield running


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser to look at it with."""
    with chromium() as running:
        yield running
