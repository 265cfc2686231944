"""A command that takes long says so on a terminal, and can be stopped."""

import os
import pty
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.commands import loaded_by


@pytest.fixture
def waiting(trial_file: Path) -> tuple[int, "subprocess.Popen[bytes]"]:
    """check-model, which takes seconds, with a terminal for its standard error."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "tonematch.cli", "check-model", "--trials", str(trial_file)]
    # Where the tests run in the background of a shell, SIGINT is ignored, and would be below too.
    held = signal.signal(signal.SIGINT, signal.SIG_DFL)
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=theirs)
    signal.signal(signal.SIGINT, held)
    os.close(theirs)
    return ours, process


@pytest.mark.proof
def test_waiting_is_told_in_seconds_and_stopped_by_ctrl_c(
    waiting: tuple[int, "subprocess.Popen[bytes]"],
) -> None:
    terminal, process = waiting
    told = b""
    while not re.search(rb"Learning from \d+ trials, .*: 2 s", told):
        told += os.read(terminal, 1000)
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=60)
    last = b""
    while not last.endswith(b"end.\r\n"):
        last += os.read(terminal, 1000)
    assert process.returncode == 130
    assert out == b""
    assert b"Traceback" not in last
    assert last.split(b"\x1b[K")[-1].split() == b"Stopped before the end.".split()


def test_ctrl_c_while_the_commands_are_loaded_is_no_traceback() -> None:
    """The parser's import stands for the half second in which a person may think better of it."""
    code = (
        "import sys\n"
        "class Stopping:\n"
        "    def find_spec(self, name, *_):\n"
        "        if name == 'typer':\n"
        "            raise KeyboardInterrupt\n"
        "sys.meta_path.insert(0, Stopping())\n"
        "from tonematch.cli import main\n"
        "main(['cautions'])"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "Stopped before the end.\n")


def test_help_waits_for_no_library_that_only_the_work_needs() -> None:
    loaded = loaded_by("--help")
    assert "tonematch.cli.commands" in loaded
    assert not {"scipy.special", "scipy.linalg", "sklearn", "sqlalchemy", "jinja2"} & loaded
