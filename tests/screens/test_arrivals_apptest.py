"""Pictures that arrive in a watched folder: offered when they have come whole, taken by a press."""

import os
import shutil
import sys
import time
from pathlib import Path

import pytest

from tests.screens.app_pages import as_read, open_app, press, said
from tonematch.screens.asking.arrivals import DAY, MOST, SETTLED, newest
from tonematch.swatchbook import swatch_path


def _put(folder: Path, name: str, age: float, content: bytes | None = None) -> Path:
    path = folder / name
    if content is None:
        shutil.copy(swatch_path("demo", "scene-1.jpg"), path)
    else:
        path.write_bytes(content)
    os.utime(path, (time.time() - age,) * 2)
    return path


def test_only_pictures_that_came_whole_today_are_offered(tmp_path: Path) -> None:
    for name in ("a.JPG", ".hidden.jpg", "notes.txt"):
        _put(tmp_path, name, 60.0, b"x")
    for name, age in (("b.dng", 30.0), ("half.jpg", SETTLED / 2), ("old.jpg", 2 * DAY)):
        _put(tmp_path, name, age, b"x")
    _put(tmp_path, "empty.jpg", 60.0, b"")
    assert [path.name for path in newest(tmp_path, time.time())] == ["b.dng", "a.JPG"]
    for number in range(9):
        _put(tmp_path, f"{number}.jpg", 10.0 + number, b"x")
    assert len(newest(tmp_path, time.time())) == MOST
    assert newest(tmp_path / "gone", time.time()) == []


def test_a_picture_is_taken_by_one_press_and_a_bad_one_is_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "phone"
    folder.mkdir()
    logbook = str(tmp_path / "logbook.sqlite")
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", logbook, "--watch", str(folder)])
    app = press(open_app(), "Put it on the bench")
    assert "Waiting for pictures" in said(app)
    _put(folder, "scene.jpg", 60.0)
    _put(folder, "broken.jpg", 90.0, b"not a picture")
    app.run()
    for name, fits in (("broken.jpg", False), ("scene.jpg", True)):
        (take,) = (b.label for b in app.button if f"Take {name}" in as_read(b.label))
        press(app, as_read(take))
        assert not app.exception
        assert bool(app.error) is not fits
        taken = [shot.name for shot in app.session_state["bench"].shots.values()]
        assert (name in taken) is fits
