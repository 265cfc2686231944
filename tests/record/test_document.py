"""The record says what it must, holds everything itself, and harms no other file."""

import re
from base64 import b64decode
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from typing import get_args

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from tests.logbook.laying import lay
from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece
from tonematch.logbook.letterhead import Letterhead, Paper, keep_letterhead
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Calibration, Comparison, ToneCurve
from tonematch.record.document import record_html, write_record
from tonematch.record.page import MARK, cautions_card, pdf_of
from tonematch.toning.core import Layer, Prediction, Trial

VOID = {"meta", "br", "image", "img", "polygon"}
# Attributes through which HTML and SVG fetch or run something.
FETCHING = {"src", "href", "xlink:href", "srcset", "action", "data", "poster", "background"}
WASH = Layer(
    "raw umber wash",
    "wash",
    material="raw umber in gum",
    reversible="water",
    cautions=("Isolate it before the next wash.",),
)
HOSTILE = '<script>alert("1")</script>\'"&'


class Page(HTMLParser):
    """Tags, text and attributes of a page; every tag that opens must close in its turn."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def picture(width: int = 120, height: int = 60) -> bytes:
    file = BytesIO()
    Image.new("RGB", (width, height), (200, 170, 90)).save(file, format="JPEG")
    return file.getvalue()


@pytest.fixture
def filled(
    logbook: Logbook, comparison: Comparison, calibration: Calibration, trial: Trial
) -> Logbook:
    """A piece with a photograph, a comparison, a predicted trial and an excluded one."""
    logbook.add_piece(
        Piece(
            "frame",
            "water",
            "burnished",
            bole="red",
            tolerance=1.5,
            wish="aged in",
            laid_before=("clear shellac seal", "thin size"),
        )
    )
    sha256 = logbook.keep_photo(picture(), "frame before.jpg", "frame")
    on_photo = replace(
        comparison,
        covariance=np.diag([0.04, 0.16, 0.36]),
        original=replace(comparison.original, photo_sha256=sha256, calibration=calibration),
        repair=replace(comparison.repair, photo_sha256=sha256, calibration=calibration),
    )
    number = logbook.keep_comparison("frame", on_photo)
    logbook.add_findings(number, ["The repair is too even.", "The repair shines alike."])
    logbook.add_trial(
        replace(trial, date="2026-04-02", temperature=18.0, humidity=55.5),
        prediction=Prediction(trial.after + np.array([1.0, 0, 0]), np.eye(3)),
        cautions=["No isolating coat lies beneath."],
    )
    early = replace(trial, application=replace(trial.application, layer="soot", kind="dust"))
    logbook.exclude_trial(logbook.add_trial(early), "wrong pot")
    logbook.add_layer(WASH)
    return logbook


def page_of(logbook: Logbook, out: Path, name: str = "frame") -> Page:
    write_record(logbook.histories(name), out)
    return Page(out.read_text(encoding="utf-8"))


def test_record_tells_the_gilding_where_it_is_known(filled: Logbook, tmp_path: Path) -> None:
    labels = (
        "The gold was laid on",
        "Age of the gold",
        "Old coating",
        "Glass",
    )
    bare = page_of(filled, tmp_path / "bare.html").text
    assert not any(label in bare for label in labels)
    known = replace(
        filled.piece("frame"), gilded_at="2026-01-02T10:00:00+00:00", historic=True,
        unknown_coating=True, glass="old mirror",
    )  # fmt: skip
    filled.change_piece("frame", known)
    text = page_of(filled, tmp_path / "record.html").text
    assert all(label in text for label in labels)
    told = ("2026-01-02 at", "is itself old", "nobody can name", "old mirror")
    assert all(words in text for words in told)
    cautions = ("backed with tin and mercury", "bronze paint, which passes", "Clean the glass")
    assert all(words in text for words in cautions)


def test_record_names_a_layer_in_progress(
    filled: Logbook, trial: Trial, comparison: Comparison, tmp_path: Path
) -> None:
    assert "not yet read" not in page_of(filled, tmp_path / "bare.html").text
    tea = replace(trial.application, layer="tea", kind="wash", coats=1)
    number = lay(filled, tea, comparison)
    day = filled.layer_in_progress("frame").laid_at[:10]  # type: ignore[union-attr]
    text = page_of(filled, tmp_path / "record.html").text
    assert f"In progress: tea (wash), laid on {day} at 18 °C, 55 % relative humidity and" in text
    assert "2026-04-02 18 °C, 55.5 % raw umber wash (wash)" in text
    assert "Tea lies there and is not yet read." in text
    assert "Mind." in text
    assert "tea Not on the shelf. not known" in text
    filled.call_off_layer(number)
    assert "not yet read" not in page_of(filled, tmp_path / "record.html").text


def test_a_record_says_on_top_that_a_verdict_is_open(
    filled: Logbook, trial: Trial, comparison: Comparison, tmp_path: Path
) -> None:
    def top() -> str:
        text = page_of(filled, tmp_path / "record.html").text
        return text[: text.index("Condition, and where the repair lies")]

    assert "Still open: the repair is not found to match its original yet." in top()
    assert "It does not match yet. CIEDE2000 7.4 now (in 19 cases of 20 from 6.9 to 8.0)." in top()
    filled.keep_comparison("frame", replace(comparison, verdict="match", delta_e=1.2))
    assert "Still open" not in top()
    assert "It matches: the repair lies within what was agreed. CIEDE2000 7.4 before, 1.2" in top()
    lay(filled, trial.application, replace(comparison, verdict="match"))
    assert "Still open" in top()
    assert "Raw umber wash lies there and is not yet read" in top()


def test_the_card_of_cautions_is_one_page_to_hang_up() -> None:
    assert len(pypdfium2.PdfDocument(pdf_of(cautions_card()))) == 1


def test_record_says_what_it_must(filled: Logbook, tmp_path: Path) -> None:
    text = page_of(filled, tmp_path / "record.html").text
    assert "Before, 20" not in text  # one comparison is before nothing
    for words in (
        "water gilding",
        "burnished",
        "The owner wishes aged in",
        "Agreed within CIEDE2000 1.5 of the old gold",
        "the usual 2.0 is tonematch's own choice",
        "illuminant D50 and the CIE 1931 2° observer",
        "body colour: lamps at the sides, camera square to the surface",
        "not meant for surfaces that look like mirrors",
        "60.0, 8.0, 32.0",
        "68.0, 6.0, 40.0",
        "ΔL* +8.0 ± 0.4 Δa* -2.0 ± 0.8 Δb* +8.0 ± 1.2",  # 1.96 sqrt of 0.04, 0.16, 0.36
        "the last original within ± 0.6, 0.4, 0.5",  # 1.96 sqrt of 0.09, 0.04, 0.0625
        "7.40 6.90 to 8.00",
        "no match",
        "The repair is lighter and yellower.",
        "The difference is above 5.",
        "The card is a little uneven.",
        "card: reflectance 0.18",
        "On the repair before the first trial clear shellac seal, then thin size",
        "The repair is too even.",
        "The repair shines alike.",
        "Evenness (standard deviation of L* and of C*ab): original 1.2, 0.8; repair 1.2, 0.8.",
        "raw umber wash (wash)",
        "raw umber in gum",
        "With water raw umber wash",
        "With alcohol, while it is young; it yellows and hardens with age clear shellac seal",
        "How is not known thin size, soot",
        "Isolate it before the next wash.",
        "No isolating coat lies beneath.",
        "0.5, 2 coats",
        "62.0, 6.0, 36.1",
        "thin size Not on the shelf.",
        "left out of what is learned",
        "trial 2 left out (wrong pot)",
        "Keep wet cloths and sprays away: water takes off raw umber wash.",
        "accredited conservator",
        "Signature",
        "left edge",
        # An area of 40 by 40 pixels, and one of 30 by 40, of a picture of 120 by 60.
        "old gold: 22.2 %, new gold: 16.7 % of the picture.",
    ):
        assert words in text
    assert "Invented" not in text
    assert "None" not in text
    assert text.index("2026-03-31") < text.index("2026-04-02")


def test_an_area_is_named_where_its_name_says_more(
    filled: Logbook, comparison: Comparison, tmp_path: Path
) -> None:
    assert "60.0, 8.0, 32.0 old gold" in page_of(filled, tmp_path / "one.html").text
    original = comparison.original
    plainly = replace(original, area=replace(original.area, name="Original"))
    filled.add_piece(Piece("console"))
    filled.keep_comparison("console", replace(comparison, original=plainly))
    text = page_of(filled, tmp_path / "two.html", "console").text
    assert "60.0, 8.0, 32.0 68.0, 6.0, 40.0 new gold" in text


@pytest.mark.parametrize("paper", get_args(Paper))
def test_all_is_said_on_the_first_page(
    logbook: Logbook, comparison: Comparison, calibration: Calibration, paper: Paper
) -> None:
    """Of four golds, with a picture before and after of each, on either paper."""
    zones = ("burnished edge", "matte flat", "carved corner", "inner slip")
    ways = ("clear shellac seal", "raw umber wash", "raw umber glaze", "dark wax", "rub to bole")
    keep_letterhead(Letterhead("Invented Gilders\n1 No Street", paper=paper))
    for zone in zones:
        logbook.add_piece(
            Piece("mirror", zone=zone, wish="aged in", hangs_in="hall", laid_before=ways,
                  damage="corner knocked off, leaf and gesso lost", viewing_distance_m=1.5)
        )  # fmt: skip
        for width in (120, 121):
            sha256 = logbook.keep_photo(picture(width), "one.jpg", "mirror", zone)
            repair = replace(comparison.repair, photo_sha256=sha256, calibration=calibration)
            read = replace(comparison.original, photo_sha256=sha256)
            found = replace(comparison, original=read, repair=repair)
            logbook.keep_comparison("mirror", found, zone=zone)
    html = record_html(logbook.histories("mirror"))
    assert html.count('<img src="data:image/jpeg') == 8
    first, second = (
        " ".join(page.get_textpage().get_text_range().split())
        for page, _ in zip(pypdfium2.PdfDocument(pdf_of(html)), range(2), strict=False)
    )
    assert first.startswith("Invented Gilders 1 No Street")
    for words in (*zones, *ways, "Damaged: corner knocked off", "7.4 before, 7.4 now"):
        assert words in first
    assert "Does not come off rub to bole" in first
    assert second.startswith("Aftercare")
    assert "burnished edge Condition, and where the repair lies" in second


def test_lustre_is_told_where_it_was_measured(
    logbook: Logbook, trial: Trial, tmp_path: Path
) -> None:
    logbook.add_trial(replace(trial, before_lustre=2.5, after_lustre=1.25))
    logbook.add_trial(trial)
    record = write_record(logbook.histories("frame"), tmp_path / "record.html")
    said = record.read_text(encoding="utf-8")
    assert said.count("Lustre before 2.50 stops, after 1.25 stops. left edge") == 1
    assert said.count("not measured") == 0


def test_picture_is_small_and_has_its_areas_named(filled: Logbook, tmp_path: Path) -> None:
    filled.keep_photo(picture(3000, 1500), "large.jpg", "frame")
    page = page_of(filled, tmp_path / "record.html")
    images = [dict(attributes) for tag, attributes in page.tags if tag == "image"]
    sizes = []
    for image in images:
        href = image["href"] or ""
        assert href.startswith("data:image/jpeg;base64,")
        with Image.open(BytesIO(b64decode(href.partition(",")[2]))) as opened:
            sizes.append(opened.size)
    assert sizes == [(120, 60), (1000, 500)]
    outlines = [
        attributes["points"]
        for tag, attributes in page.tags
        if tag == "polygon" and attributes["class"] == "line"
    ]
    assert outlines == [
        "0.0,0.0 20.0,0.0 20.0,20.0 0.0,20.0",
        "30.0,10.0 70.0,10.0 70.0,50.0 30.0,50.0",
        "80.0,10.0 110.0,10.0 110.0,50.0 80.0,50.0",
    ]
    for name in ("card", "old gold", "new gold"):
        assert name in page.words


def test_photograph_that_is_gone_leaves_a_sentence(filled: Logbook, tmp_path: Path) -> None:
    filled.history("frame").photographs[0].path.unlink()
    page = page_of(filled, tmp_path / "record.html")
    assert "cannot be shown; the last table says why" in page.text
    assert page.text.index("Where it is kept") < page.text.index("put it back from a copy")
    assert not [tag for tag, _ in page.tags if tag == "image"]


def test_record_fetches_nothing(filled: Logbook, tmp_path: Path) -> None:
    out = tmp_path / "record.html"
    page = page_of(filled, out)
    html = out.read_text(encoding="utf-8")
    assert not re.search(r"https?:", html)
    assert "@import" not in html
    assert html.count("url(") == html.count('url("data:font/woff;base64,') == 2
    assert {tag for tag, _ in page.tags}.isdisjoint({"script", "link", "iframe", "object", "embed"})
    fetched = [
        value or ""
        for _, attributes in page.tags
        for key, value in attributes.items()
        if key in FETCHING
    ]
    assert fetched
    assert all(value.startswith("data:") for value in fetched)


def test_hostile_words_stay_words(
    logbook: Logbook, comparison: Comparison, trial: Trial, tmp_path: Path
) -> None:
    piece = Piece(
        HOSTILE,
        bole=HOSTILE,
        leaf=HOSTILE,
        hangs_in=HOSTILE,
        wish=HOSTILE,
        notes=HOSTILE,
        laid_before=(HOSTILE,),
    )
    logbook.add_piece(piece)
    sha256 = logbook.keep_photo(picture(), HOSTILE, HOSTILE)
    area = replace(comparison.original.area, name=HOSTILE)
    original = replace(comparison.original, area=area, photo_sha256=sha256, warnings=(HOSTILE,))
    logbook.keep_comparison(HOSTILE, replace(comparison, original=original, words=HOSTILE))
    application = replace(trial.application, layer=HOSTILE)
    number = logbook.add_trial(
        replace(trial, piece=HOSTILE, note=HOSTILE, application=application), cautions=[HOSTILE]
    )
    logbook.exclude_trial(number, HOSTILE)
    page = page_of(logbook, tmp_path / "record.html", HOSTILE)
    (first, *_) = pypdfium2.PdfDocument(pdf_of((tmp_path / "record.html").read_text("utf-8")))
    assert f"Record of toning: {HOSTILE}" in first.get_textpage().get_text_range()
    tags = {tag for tag, _ in page.tags}
    assert "script" not in tags
    assert page.text.count(HOSTILE) >= 10
    assert not any(key.startswith("on") for _, attributes in page.tags for key in attributes)


def test_invented_piece_has_its_banner_and_an_empty_one_its_sentences(
    logbook: Logbook, tmp_path: Path
) -> None:
    logbook.add_piece(Piece("demo", invented=True))
    text = page_of(logbook, tmp_path / "record.html", "demo").text
    assert "Invented demonstration data" in text
    assert "No layer was written down, no comparison and no photograph was kept." in text
    assert "technique not stated" in text
    assert "How it was measured" not in text
    assert "None" not in text


def test_a_layer_of_ones_own_is_told_before_the_one_that_ships(filled: Logbook) -> None:
    histories = filled.histories("frame")
    assert "raw umber in gum" in record_html(histories)
    assert "raw umber in gum" not in record_html([replace(one, layers=()) for one in histories])


def test_a_record_is_written_over_and_nothing_else_is(filled: Logbook, tmp_path: Path) -> None:
    out = tmp_path / "record.html"
    histories = filled.histories("frame")
    assert write_record(histories, out) == out
    assert MARK in out.read_bytes()
    write_record(histories, out)
    letter = tmp_path / "letter.html"
    letter.write_text("<p>Dear owner</p>", encoding="utf-8")
    for path, words in (
        (letter, "is not a record"),
        (tmp_path, "is a folder"),
        (tmp_path / "none" / "record.html", "cannot be written"),
        (letter / "record.html", "cannot be written"),
    ):
        with pytest.raises(LogbookError, match=words) as caught:
            write_record(histories, path)
        assert "\n" not in str(caught.value)
    assert letter.read_text(encoding="utf-8") == "<p>Dear owner</p>"
    assert not list(tmp_path.glob(".tonematch-draft-*"))


def test_record_says_how_a_calibration_was_found(
    logbook: Logbook, comparison: Comparison, calibration: Calibration, tmp_path: Path
) -> None:
    table = np.linspace(0.0, 1.0, 4)[:, None] * np.ones(3)
    tone = ToneCurve(table, table, np.zeros(0), np.full(3, 0.2), "from two neutrals")
    logbook.add_piece(Piece("frame"))
    repair = replace(comparison.repair, calibration=replace(calibration, tone=tone))
    logbook.keep_comparison("frame", replace(comparison, repair=repair))
    text = page_of(logbook, tmp_path / "record.html").text
    assert "Calibrated on card: reflectance 0.18; tone curve from two neutrals" in text
