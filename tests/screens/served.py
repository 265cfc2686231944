"""A bench that runs as a person starts it, in a process of its own."""

import os
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import pytest

ROOT = Path(__file__).resolve().parents[2]
# As the installed command starts it: the current folder is not on Python's path.
COMMAND = "from tonematch.cli import main; main()"


@dataclass
class Server:
    """A running bench with a logbook of its own; its address carries the token."""

    url: str
    logbook: Path
    process: "subprocess.Popen[bytes]"

    @property
    def host(self) -> str:
        """Name and port, as a browser asks for it."""
        return urlsplit(self.url).netloc

    @property
    def port(self) -> int:
        """Of this machine."""
        port = urlsplit(self.url).port
        assert port is not None
        return port


@contextmanager
def serve(
    folder: Path,
    environment: Mapping[str, str] | None = None,
    first: str = "",
    options: Sequence[str] = (),
) -> Iterator[Server]:
    """A bench started in a folder with `tonematch bench`, until the end of the block.

    Parameters
    ----------
    folder : pathlib.Path
        The current folder of the bench; its logbook lies there too.
    environment : mapping of str to str, optional
        Variables beside those of this process.
    first : str
        Python that runs in the process before the command.
    options : sequence of str
        Beside those that every bench here is started with.
    """
    logbook = folder / "logbook.sqlite"
    with (folder / "server.log").open("wb") as log:
        process = subprocess.Popen(
            [
                *(sys.executable, "-P", "-c", f"{first}\n{COMMAND}"),
                *("bench", "--no-browser", "--logbook", str(logbook), *options),
            ],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": str(ROOT)} | dict(environment or {}),
            stdout=subprocess.PIPE,
            stderr=log,
        )
    assert process.stdout is not None
    try:
        said = process.stdout.readline().decode()
        if "http://" not in said:
            pytest.fail(f"the bench did not start: {(folder / 'server.log').read_text()}")
        yield Server(said.split()[-1], logbook, process)
    finally:
        process.terminate()
        process.wait(20)
        process.stdout.close()
