"""Every test of the logbook that does not look into a file runs on a server, too."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.logbook.server import Server, a_logbook, a_server
from tonematch.logbook.photo_folder import Where
from tonematch.logbook.store import Logbook, open_logbook


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A server of the tests' own."""
    with a_server() as started:
        yield started


in_a_file = pytest.mark.parametrize("where", ["file"], indirect=True)


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.proof)])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Where]:
    """Where a new logbook is to lie."""
    if request.param == "file":
        yield tmp_path / "logbook.sqlite"
        return
    with a_logbook(request.getfixturevalue("server"), "logbook", tmp_path) as address:
        yield address


@pytest.fixture
def logbook(where: Where) -> Iterator[Logbook]:
    """A fresh logbook."""
    with open_logbook(where) as opened:
        yield opened
