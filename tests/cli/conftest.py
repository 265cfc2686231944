"""Running commands in this process, and the bundled files that they run on."""

import json
from pathlib import Path
from typing import Any

import pytest
from commands import Ran, Run

from tonematch.cli import main
from tonematch.swatchbook import swatch_path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """A command's arguments in, what it did out."""

    def run_it(*arguments: object) -> Ran:
        with pytest.raises(SystemExit) as ended:
            main([str(argument) for argument in arguments])
        said = capsys.readouterr()
        assert isinstance(ended.value.code, int)
        return Ran(ended.value.code, said.out, said.err)

    return run_it


@pytest.fixture
def trials() -> Path:
    """The invented trials."""
    return swatch_path("demo", "trials.csv")


@pytest.fixture
def truth() -> dict[str, Any]:
    """The true Lab of each area of the bundled photographs."""
    text = swatch_path("demo", "truth.json").read_text(encoding="utf-8")
    stated: dict[str, Any] = json.loads(text)["pictures"]
    return stated


@pytest.fixture
def boxes(truth: dict[str, Any]) -> dict[str, str]:
    """Boxes of scene-1.jpg as the command line takes them."""
    areas = truth["scene-1.jpg"]["areas"]
    return {role: ",".join(map(str, areas[role]["box"])) for role in areas}
