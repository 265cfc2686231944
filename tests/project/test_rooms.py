"""The direction of imports: a room knows only the rooms above it."""

import ast
from pathlib import Path

import pytest

import tonematch

PACKAGE = Path(tonematch.__file__).parent
ROOMS = ("photo", "measure", "toning", "logbook", "record")
COMMON = {"errors", "swatchbook", "wholefile", "__init__"}
FACES = {"screens", "cli", "forms", "demonstration"}


def imported(path: Path) -> set[str]:
    """First names below tonematch that a module imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return {name.split(".")[1] for name in found if name.startswith("tonematch.")}


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_only_from_rooms_above(room: str) -> None:
    allowed = {*ROOMS[: ROOMS.index(room) + 1], *COMMON}
    modules = list((PACKAGE / room).rglob("*.py"))
    assert modules
    for path in modules:
        assert imported(path) <= allowed, path


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
