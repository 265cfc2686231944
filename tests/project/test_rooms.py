"""The direction of imports: a room knows only the rooms above it."""

import ast
from pathlib import Path

import pytest

import tonematch

PACKAGE = Path(tonematch.__file__).parent
ROOMS = ("photo", "measure", "toning", "logbook", "record")
COMMON = {"arrays", "errors", "swatchbook", "wholefile", "__init__"}
FACES = {"screens", "cli", "in_words", "demonstration"}
# Inner rooms, and the modules beside them, in the order in which a colour passes through.
INNER = {
    "measure": (
        "core", "colour", "words", "area", "calibration", "uncertainty", "reading", "comparison",
        "repeats", "marked", "two_lights", "appearance",
    ),
    "toning": ("core", "layers", "optics", "model", "validation", "planning"),
    "logbook": (
        "core", "standing", "photo_folder", "own_file", "own_cards", "letterhead",
        "trial_check", "piece_check", "csv_rows", "trial_csv", "database", "stores",
        "store", "layers_on_repair", "archive",
    ),
    "screens": (
        "showing", "marking", "session", "drafts", "keeping", "planning", "asking", "sections",
        "pages", "bench", "server",
    ),
}  # fmt: skip


def imported(path: Path, below: str = "tonematch") -> set[str]:
    """First names below a package that a module imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    start = f"{below}."
    return {name.removeprefix(start).split(".")[0] for name in found if name.startswith(start)}


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_only_from_rooms_above(room: str) -> None:
    allowed = {*ROOMS[: ROOMS.index(room) + 1], *COMMON}
    modules = list((PACKAGE / room).rglob("*.py"))
    assert modules
    for path in modules:
        assert imported(path) <= allowed, path


@pytest.mark.parametrize("room", INNER)
def test_imports_inside_a_room_run_one_way(room: str) -> None:
    names = INNER[room]
    there = {path.stem for path in (PACKAGE / room).glob("*.py")} - {"__init__"}
    there |= {path.parent.name for path in (PACKAGE / room).glob("*/__init__.py")}
    assert there == set(names)
    for place, name in enumerate(names):
        inner = PACKAGE / room / name
        for path in inner.glob("*.py") if inner.is_dir() else [inner.with_suffix(".py")]:
            assert imported(path, f"tonematch.{room}") <= set(names[: place + 1]), path


def test_every_module_lies_in_a_room_or_is_a_face() -> None:
    names = {path.stem for path in PACKAGE.glob("*.py")} | {
        path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()
    }
    assert names == {*ROOMS, *COMMON, *FACES}


def test_only_screens_knows_streamlit_and_only_logbook_the_database() -> None:
    for path in PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        room = path.relative_to(PACKAGE).parts[0]
        assert room == "screens" or "import streamlit" not in text, path
        assert room == "logbook" or "sqlalchemy" not in text, path


def test_measuring_does_not_wait_for_the_learning_library() -> None:
    for room in ("photo", "measure"):
        for path in (PACKAGE / room).rglob("*.py"):
            assert "sklearn" not in path.read_text(encoding="utf-8"), path
