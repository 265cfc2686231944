"""What README, DEVELOPERS and the notebook on accuracy tell a person to type is there, and runs."""

import json
import re
import runpy
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.cli.commands import Run
from tests.how_good import ASKED, COLUMNS
from tonematch.cli.commands import COMMANDS
from tonematch.demonstration import PIECE, UNTONED, load_demonstration
from tonematch.logbook.store import open_logbook
from tonematch.measure.core import Comparison
from tonematch.screens.server import run as serving
from tonematch.swatchbook import swatch_path

ROOT = Path(__file__).resolve().parents[2]
README, DEVELOPERS = (
    (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")
)
ACCURACY = "\n".join(
    "".join(cell["source"])
    for cell in json.loads((ROOT / "notebooks/accuracy.ipynb").read_text(encoding="utf-8"))["cells"]
    if cell["cell_type"] == "markdown"
)
DOCUMENTS = "\n".join((README, DEVELOPERS, ACCURACY))


def boxes() -> dict[str, str]:
    """The true boxes of the demonstration's first photograph, as they are typed."""
    truth = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))
    areas = truth["pictures"][UNTONED]["areas"]
    return {
        name.removesuffix(" card"): ",".join(map(str, area["box"])) for name, area in areas.items()
    }


# What a person puts where the README has a capital word; the first that fits is taken.
FILLED = (
    *((f"--{role} BOX", f"--{role} {box}") for role, box in boxes().items()),
    ("NAME=BOX", f"old={boxes()['original']}"),
    ("PHOTO", shlex.quote(str(swatch_path("demo", UNTONED)))),
    ("FILE.csv", shlex.quote(str(swatch_path("demo", "trials.csv")))),
    ("FILE.html", "file.html"),
    ("FILE.zip", "file.zip"),
    ("--from L,a,b", "--from 89.4,7.9,35.9"),
    ("--to L,a,b", "--to 80.1,8.1,33.9"),
    ("add PIECE", "add 'hall mirror'"),
    ("PIECE", shlex.quote(PIECE.name)),
)


def lines(document: str, start: str) -> list[str]:
    """Lines of a document's shell blocks that start so."""
    blocks = re.findall(r"^```sh\n(.*?)^```", document, re.DOTALL | re.MULTILINE)
    return [line for line in "".join(blocks).splitlines() if line.startswith(start)]


def typed() -> Iterator[object]:
    """Each command of the README, filled in, as a parameter of a test."""
    for line in lines(README, "tonematch "):
        command = line.partition("#")[0].removeprefix("tonematch ").strip()
        for capital, filled in FILLED:
            command = command.replace(capital, filled)
        slow = [pytest.mark.proof] if command == "check-model" else []
        yield pytest.param(command, marks=slow, id=line[10:35])


@pytest.fixture
def workshop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, comparison: Comparison) -> None:
    """The demonstration's piece, compared once, in the usual logbook of a person of their own."""
    monkeypatch.chdir(tmp_path)
    with open_logbook() as logbook:
        load_demonstration(logbook)
        digest = logbook.keep_photo(swatch_path("demo", UNTONED).read_bytes(), UNTONED, PIECE.name)
        original, repair = (
            replace(reading, photo_sha256=digest)
            for reading in (comparison.original, comparison.repair)
        )
        logbook.keep_comparison(PIECE.name, replace(comparison, original=original, repair=repair))


@pytest.mark.usefixtures("workshop")
@pytest.mark.parametrize("command", list(typed()))
def test_a_command_of_the_readme_does_its_job(
    run: Run, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(serving, "run_bench", stopped)  # it is tried in tests/screens
    ran = run(*shlex.split(command))
    assert ran.status == 0, ran.err
    assert ran.out


def test_commands_that_the_readme_names_beside_are_there(run: Run) -> None:
    also = [line for line in lines(README, "tonematch ") if "also: " in line]
    assert also
    for line in also:
        for name in line.partition("also: ")[2].split(", "):
            assert run(line.split()[1], name, "--help").status == 0, (line, name)


def test_set_up_is_what_ci_sets_up() -> None:
    ci = re.sub(r'"\$work/\w+/bin/(\w+)"', r"\1", (ROOT / ".ci/run").read_text(encoding="utf-8"))
    found = [*lines(README, "python3 -m venv"), *lines(DEVELOPERS, "python3 -m venv")]
    assert len(found) == 3
    for line in found:
        for part in line.split(" && ")[1:]:
            assert part.removeprefix(".venv/bin/") in ci, part


def test_the_help_says_where_the_logbook_lies() -> None:
    code = "from tonematch.logbook.photo_folder import usual_folder as at; print(at())\n"
    code += "from tonematch.cli import main; main()"
    command = [sys.executable, "-c", code, "--help"]
    folder, said = subprocess.check_output(command, text=True).split("\n", 1)
    assert folder in said


def scripts() -> list[tuple[str, str]]:
    """Modules that the documents have run, each with its options."""
    return sorted(set(re.findall(r"python -m (tests\.[\w.]+)([^`\n]*)", DOCUMENTS)))


@pytest.mark.filterwarnings("ignore:.* found in sys.modules:RuntimeWarning")
@pytest.mark.parametrize(("module", "options"), scripts())
def test_a_script_answers_help_and_knows_its_options(
    module: str, options: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", [module, *shlex.split(options), "--help"])
    with pytest.raises(SystemExit) as ended:
        runpy.run_module(module, run_name="__main__")
    assert ended.value.code == 0
    told = capsys.readouterr().out
    assert told.startswith("usage: ")
    assert all(option in told for option in re.findall(r"--\w+", options))


def test_options_in_the_text_are_those_of_a_command() -> None:
    def options(command: Any) -> set[str]:
        own = {name for parameter in command.params for name in parameter.opts}
        return own.union(*map(options, getattr(command, "commands", {}).values()))

    named = set(re.findall(r"`(--[\w-]+)", README + ACCURACY))
    assert {"--json", "--neutral"} <= named
    of_scripts = {"--only", "--first"}
    assert named - of_scripts <= options(COMMANDS) | {"--help"}


def test_paths_in_the_text_are_there() -> None:
    named = set(re.findall(r"`((?:[\w.-]+/)*[\w-]+(?:\.[a-z]+|/))`", DOCUMENTS))
    named |= set(re.findall(r"\]\(([\w./]+)\)", DOCUMENTS))
    assert len(named) > 50
    places = (ROOT, ROOT / "tonematch", ROOT / "notebooks")
    assert [path for path in sorted(named) if not any((p / path).exists() for p in places)] == []


def test_the_table_of_the_readme_is_the_one_that_is_printed() -> None:
    told = re.findall(r"^\| (.+?) \| (.+?) \|$", README, re.MULTILINE)
    assert told[0] == COLUMNS
    assert [what for what, _ in told[2:]] == list(ASKED)
    assert all(re.search(r"\d", how_good) for _, how_good in told[2:])
