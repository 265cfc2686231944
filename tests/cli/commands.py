"""What a command did, and what a refusal must look like."""

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Standard output as the one JSON object that it must be."""
        return json.loads(self.out)


Run = Callable[..., Ran]


def refused(ran: Ran, words: str) -> None:
    """One sentence on standard error, nothing on standard output, exit 2."""
    assert ran.status == 2, ran
    assert ran.out == ""
    assert words in ran.err
    assert len(ran.err.strip().splitlines()) == 1
    assert "Traceback" not in ran.err


def loaded_by(*arguments: object) -> set[str]:
    """The modules that a whole process of this command has loaded at its end."""
    code = (
        "import sys\nfrom tonematch.cli.commands import run\n"
        "assert run(sys.argv[1:]) == 0\nprint(*sys.modules)"
    )
    command = [sys.executable, "-W", "ignore", "-c", code, *map(str, arguments)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return set(done.stdout.splitlines()[-1].split())
