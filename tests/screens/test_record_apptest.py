"""The record on the page: what is asked for it, and what is then handed over."""

from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from PIL import Image
from streamlit.runtime.memory_media_file_storage import MemoryMediaFileStorage
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import open_app, open_piece, press, said, visit
from tonematch.logbook.core import Piece
from tonematch.logbook.store import open_logbook
from tonematch.toning.core import Trial


@pytest.fixture
def handed(monkeypatch: pytest.MonkeyPatch) -> dict[str, bytes]:
    """What the page hands to the browser, by the name of its file."""
    found: dict[str, bytes] = {}
    keep = MemoryMediaFileStorage.load_and_get_id

    def noted(self: Any, data: Any, mimetype: str, kind: Any, filename: str | None = None) -> str:
        found[filename or ""] = data
        return keep(self, data, mimetype, kind, filename)

    monkeypatch.setattr(MemoryMediaFileStorage, "load_and_get_id", noted)
    return found


def tell(app: AppTest, label: str, words: str) -> None:
    """Write into a field."""
    (field,) = (one for one in (*app.text_input, *app.text_area) if one.label == label)
    field.set_value(words)


def test_what_only_a_person_can_say_stands_in_what_is_handed_over(
    logbook_file: Path, trial: Trial, handed: dict[str, bytes]
) -> None:
    with open_logbook(logbook_file) as logbook:
        logbook.add_trial(Trial(trial.application, trial.after, "hall mirror"))
    app = visit(open_piece(open_app(), "hall mirror"), "Record")
    tell(app, "What was damaged", "corner knocked off")
    tell(app, "Condition when it came", "gesso sound")
    tell(app, "Place and size of the repair", "upper left, 4 by 7 cm")
    tell(app, "Done by", "A. Gilder")
    tell(app, "raw umber wash: maker and batch", "a maker, batch 12")
    assert "Kept with the piece." in said(press(app, "Keep this"))
    tell(app, "Name, address, a line each", "Invented Gilders\n1 No Street")
    (paper,) = (one for one in app.radio if one.label == "Paper")
    paper.set_value("Letter")
    (logo,) = (one for one in app.file_uploader if one.label.startswith("Logo"))
    picture = BytesIO()
    Image.new("RGB", (60, 30), (200, 0, 0)).save(picture, "PNG")
    logo.upload("logo.png", picture.getvalue(), "image/png")
    assert "stands above every record" in said(press(app, "Keep this heading"))
    press(app, "Write the record")
    assert not app.exception
    assert not app.error
    pdf = pypdfium2.PdfDocument(handed["record hall mirror.pdf"])
    assert tuple(map(round, pdf[0].get_size())) == (612, 792)
    html = handed["record hall mirror.html"].decode("utf-8")
    read = " ".join(page.get_textpage().get_text_range() for page in pdf)
    for words in (
        "Invented Gilders", "1 No Street", "corner knocked off", "gesso sound",
        "upper left, 4 by 7 cm", "A. Gilder", "a maker, batch 12",
    ):  # fmt: skip
        assert words in html
        assert words in " ".join(read.split())
    assert 'src="data:image/png;base64,' in html
    with open_logbook(logbook_file) as logbook:
        piece = logbook.piece("hall mirror")
    assert piece == Piece(
        "hall mirror", "water", "burnished", bole="red", damage="corner knocked off",
        condition="gesso sound", extent="upper left, 4 by 7 cm", done_by="A. Gilder",
        makers=(("raw umber wash", "a maker, batch 12"),),
    )  # fmt: skip
