"""The compare page with a second photograph of the pair, under another light."""

from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from tests.cases import in_ci
from tests.measure.metameric_pairs import metameric
from tests.screens.app_pages import as_read, open_app, open_piece, press, said, type_areas, visit
from tonematch.logbook.core import Piece
from tonematch.logbook.store import open_logbook
from tonematch.measure.area.areas import box_area, parse_shape, shape_of
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.core import Area, Role
from tonematch.measure.marked import Marked, compare_marked
from tonematch.measure.two_lights import compare_under_second_light
from tonematch.photo.decode import load_photo
from tonematch.record.document import write_record

PIECE = Piece("hall mirror", "water", "burnished")


@pytest.fixture
def photographs(tmp_path: Path) -> tuple[list[Marked], list[Path]]:
    """A metameric pair under its two lamps, marked, and the files."""
    rng = np.random.default_rng(11)
    files, boxes = next(metameric(rng)).photographed(rng, tmp_path)
    roles: tuple[Role, ...] = ("card", "original", "repair")
    areas: dict[str, Area] = {
        role: box_area(role, parse_shape(box), role)
        for role, box in zip(roles, boxes, strict=False)
    }
    return [Marked(load_photo(file), areas) for file in files], files


@pytest.fixture
def app(
    photographs: tuple[list[Marked], list[Path]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> AppTest:
    """The compare page, another day: the first photograph lies in the logbook."""
    (first, _), (file, _) = photographs
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr("sys.argv", ["app.py", "--logbook", str(path)])
    with open_logbook(path) as logbook:
        logbook.add_piece(PIECE)
        logbook.keep_photo(file.read_bytes(), file.name, PIECE.name)
        gap = compare_marked(first, first, usual_card(), PIECE.tolerance)
        logbook.keep_comparison(PIECE.name, gap)
    page = open_app()
    open_piece(page, PIECE.name)
    page = visit(page, "Compare")
    page.checkbox(key="second light").check().run()
    return page


@pytest.mark.proof
def test_a_pair_that_parts_is_told_and_kept_for_the_record(
    app: AppTest, photographs: tuple[list[Marked], list[Path]], tmp_path: Path
) -> None:
    (first, second), (_, file) = photographs
    app.file_uploader(key="upload-second light").upload(
        file.name, file.read_bytes(), "image/jpeg"
    ).run()
    # Two flat patches have no features by which the marks could be carried over.
    type_areas(app, {role.capitalize(): shape_of(a) for role, a in second.areas.items()})
    press(app, "Compare under the second light")
    assert not app.exception
    assert not app.error
    gap = compare_marked(first, first, usual_card(), PIECE.tolerance)
    found = compare_under_second_light(gap, second, usual_card())
    assert found.parts
    low, high = found.interval
    told = said(app)
    assert f"CIEDE2000 {found.change:.1f} (95 % interval {low:.1f} to {high:.1f})" in told
    assert found.words in told
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        (history,) = logbook.histories(PIECE.name)
        record = write_record([history], tmp_path / "record.html").read_text(encoding="utf-8")
    assert len(history.photographs) == 2
    assert "part with the light" in record


def test_a_photograph_under_the_second_light_leaves_the_piece_where_it_stands(
    app: AppTest, photographs: tuple[list[Marked], list[Path]]
) -> None:
    file = photographs[1][1]
    visit(app, "Compare")
    stands = next(line for line in said(app).splitlines() if line.startswith("On the bench"))
    app.file_uploader(key="upload-second light").upload(
        file.name, file.read_bytes(), "image/jpeg"
    ).run()
    for room in ("Plan", "Compare"):
        assert stands in said(visit(app, room)).splitlines()
    # It waits where it was left, and is none of the pair that is to be marked.
    anew = open_app()
    assert "not compared yet" not in said(anew)
    open_piece(anew, PIECE.name)
    marks = [
        "Card, left (px)" in {number.label for number in visit(anew, room).number_input}
        for room in ("Compare", "Photograph")
    ]
    assert marks == [True, False]


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [("text.jpg", b"no picture", "not a picture"), in_ci("first.jpg", None, "of the first light")],
)
def test_a_wrong_second_photograph_is_one_sentence_and_the_page_stays(
    app: AppTest,
    photographs: tuple[list[Marked], list[Path]],
    tmp_path: Path,
    name: str,
    content: bytes | None,
    words: str,
) -> None:
    content = photographs[1][0].read_bytes() if content is None else content
    app.file_uploader(key="upload-second light").upload(name, content, "image/jpeg").run()
    if words == "of the first light":
        press(app, "Take what was found")
        press(app, "Compare under the second light")
    assert not app.exception
    (error,) = app.error
    assert words in as_read(error.value)
    assert "CIEDE2000" in said(app)
    press(app, "Make a plan")
    assert app.header[0].value == "Plan"
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        history = logbook.history(PIECE.name)
    assert len(history.photographs) == 1
    assert len(history.comparisons) == 1
    assert not history.comparisons[0].findings
