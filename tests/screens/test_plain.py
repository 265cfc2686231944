"""What a person typed is shown as it was typed: on no page is it taken for Markdown."""

import re
import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Block

from tests.cases import few_of
from tests.screens.app_pages import APP, PATIENCE, as_read
from tonematch.errors import CardError
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.measure.core import Comparison
from tonematch.screens import bench as bench_page
from tonematch.screens.session import ROOMS
from tonematch.screens.showing.plain import plain
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Application, Coat, Layer, Strip, Surface, Trial
from tonematch.toning.planning.ground import Ground

HOSTILE = "![x](http://127.0.0.1:9/x.png) $a$ :red[b] **c** <img src=x>"
# What Markdown makes of it, each as it would stand in an element without a backslash before it.
MARKS = re.compile(r"(?<!\\)(!\[x|\]\(http|\$a|:red|\[b\]|\*\*c|<img)")
# Fields that Streamlit shows as they are: what fills a box, options of a selectbox, table cells.
PLAIN_FIELDS = {
    "id", "form_id", "key", "default", "options", "raw_options", "string_options", "raw_value",
    "raw_values", "value", "set_value", "placeholder", "url", "file_name", "arrow_data", "json",
    "data", "mark",
}  # fmt: skip


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory, comparison: Comparison, trial: Trial) -> Path:
    """A folder with a logbook, made once: all that a person can name is named with ill intent."""
    folder = tmp_path_factory.mktemp("hostile")
    layer = Layer(
        HOSTILE, "wash", material=HOSTILE, technique=HOSTILE, over=HOSTILE, effect=HOSTILE,
        reversible=HOSTILE, full_strength=HOSTILE, cautions=(HOSTILE,), absorption=(0.1, 0.2, 0.3),
        scattering=(0.01, 0.01, 0.01),
    )  # fmt: skip
    with open_logbook(folder / "logbook.sqlite") as logbook:
        logbook.add_layer(layer)
        logbook.add_piece(
            Piece(
                HOSTILE, "water", "burnished", HOSTILE, HOSTILE, HOSTILE, HOSTILE, notes=HOSTILE,
                laid_before=(HOSTILE,),
            )
        )  # fmt: skip
        logbook.keep_photo(
            swatch_path("demo", "scene-1.jpg").read_bytes(), f"{HOSTILE}.jpg", HOSTILE
        )
        logbook.keep_comparison(HOSTILE, replace(comparison, warnings=(HOSTILE,)))
        laid = Application(comparison.repair.lab, HOSTILE, "wash", 0.5, 1, "water", "burnished")
        numbers = [
            logbook.add_trial(
                Trial(laid, comparison.repair.lab - off, HOSTILE, "2026-03-31", step, HOSTILE)
            )
            for step, off in enumerate((4.0, 4.5, 5.0, 30.0), start=1)
        ]
        logbook.exclude_trial(numbers[1], HOSTILE)
        logbook.correct_trial(
            numbers[0], replace(trial, piece=HOSTILE, application=laid), reason=HOSTILE
        )
        logbook.change_layer(HOSTILE, replace(layer, effect=f"{HOSTILE}!"), HOSTILE)
        logbook.keep_strips(HOSTILE, [Strip((Coat(layer, 0.5),))], Ground(Surface()))
    return folder


@pytest.fixture
def logbook_file(hostile: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of that logbook, which the app opens."""
    path = Path(shutil.copytree(hostile, tmp_path, dirs_exist_ok=True)) / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    return path


def _load(room: str) -> AppTest:
    app = AppTest.from_file(str(APP), default_timeout=PATIENCE)
    app.query_params["room"], app.query_params["piece"] = room, HOSTILE
    app = app.run()
    assert not app.exception
    return app


def _words(message: Any) -> Iterator[tuple[str, str]]:
    """Every string of an element's message, by the name of its field."""
    for field, value in message.ListFields():
        if field.name in PLAIN_FIELDS:
            continue
        several = not isinstance(value, str) and hasattr(value, "__iter__")
        for one in value if several else (value,):
            if isinstance(one, str):
                yield field.name, one
            elif hasattr(one, "ListFields"):
                yield from _words(one)


def _elements(block: Block) -> Iterator[Any]:
    for child in block.children.values():
        if hasattr(proto := getattr(child, "proto", None), "ListFields"):
            yield proto
        if isinstance(child, Block):
            yield from _elements(child)


def _taken_for_markdown(app: AppTest) -> list[str]:
    return [
        f"{type(element).__name__}.{name}: {words}"
        for part in (app.main, app.sidebar)
        for element in _elements(part)
        if type(element).__name__ != "Html"
        for name, words in _words(element)
        if MARKS.search(words)
    ]


@pytest.mark.usefixtures("logbook_file")
@pytest.mark.parametrize("room", few_of(ROOMS, 4))
def test_no_page_takes_a_name_for_markdown(room: str) -> None:
    app = _load(room)
    assert app.header[0].value == room
    assert _taken_for_markdown(app) == []
    if room == "Lay a layer":
        next(s for s in app.selectbox if s.label == "Layer").set_value(HOSTILE).run()
        assert _taken_for_markdown(app) == []
        next(b for b in app.button if b.label == "I have laid it").click().run()
        assert HOSTILE in as_read(app.subheader[0].value)
        assert _taken_for_markdown(app) == []
        next(b for b in app.button if b.label == "Not laid after all").click().run()
        assert HOSTILE in as_read(app.success[0].value)
        assert _taken_for_markdown(app) == []
    if room == "Logbook":
        _opened_and_told(app)
    if room == "Shelf":
        app.selectbox[0].set_value(HOSTILE).run()
        assert _taken_for_markdown(app) == []
    if room == "Photograph":
        app.file_uploader[0].upload(f"{HOSTILE}.jpg", b"no picture", "image/jpeg").run()
        assert HOSTILE in as_read(app.error[0].value)
        assert _taken_for_markdown(app) == []


def _opened_and_told(app: AppTest) -> None:
    """A row opened, the story of a piece, and a pair for the eye."""
    next(b for b in app.button if b.label.startswith("Open ")).click().run()
    for part in ("What was laid", "Story", "Train the eye"):
        app.session_state["part"] = part
        app.run()
        assert not app.exception
        assert _taken_for_markdown(app) == []
        assert not any("<img src=x" in html.proto.body for html in app.get("html"))


@pytest.mark.usefixtures("logbook_file")
def test_a_sentence_that_quotes_a_name_is_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_logbook: Logbook) -> None:
        raise CardError(f"{HOSTILE}: photograph it darker.")

    monkeypatch.setitem(bench_page.PAGES, "Piece", fail)
    app = _load("Piece")
    assert HOSTILE in as_read(app.error[0].value)
    assert _taken_for_markdown(app) == []


def test_every_mark_gets_its_backslash() -> None:
    # CommonMark 0.31, "Backslash escapes": any ASCII punctuation character may be escaped.
    marks = "!\"#$%&'()*+,-./:;<=>?@[\\]^_`{|}~"
    assert plain(f"a1 {marks} é") == "a1 " + "".join(f"\\{mark}" for mark in marks) + " é"
    assert plain("one\n    two") == "one\ntwo"
