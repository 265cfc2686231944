"""What a command did, and what a refusal must look like."""

import json
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
