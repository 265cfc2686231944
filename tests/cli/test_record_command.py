"""The record as a person writes it: what was told of the piece stands in both of its forms."""

import os
import re
import subprocess
import sys
from html import unescape
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from tests.cli.commands import Run, refused

A4, LETTER = (595, 842), (612, 792)  # points, ISO 216 and ANSI/ASME Y14.1
ZONES = ("burnished edge", "matte flat")
TOLD = (
    "--damage", "corner knocked off, gesso lost", "--condition", "two cracks in the mitre",
    "--extent", "upper left, 4 by 7 cm", "--by", "A. Gilder", "--maker",
    "Raw Umber wash=Müller & Söhne, batch 12",
)  # fmt: skip
HEAD = "piece,zone,technique,layer,kind,strength,before_L,before_a,before_b,after_L,after_a,after_b"


@pytest.fixture
def hall_mirror(run: Run, tmp_path: Path) -> tuple[str, Path]:
    """The option of a logbook with a piece of two golds, a layer on each."""
    book, table = tmp_path / "book.sqlite", tmp_path / "laid.csv"
    for zone in ZONES:
        run("pieces", "add", "hall mirror", "--technique", "water", "--zone", zone,
            "--wish", "aged in", "--logbook", book)  # fmt: skip
    rows = [f"hall mirror,{zone},water,raw umber wash,wash,0.5,88,6,35,80,6,33" for zone in ZONES]
    table.write_text("\n".join([HEAD, *rows]))
    assert run("trials", "import", table, "--logbook", book).out.startswith("2 of 2")
    return "--logbook", book


def text_of(pdf: Path) -> str:
    """All words of a PDF."""
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(page.get_textpage().get_text_range() for page in pages)


def sizes_of(pdf: Path) -> set[tuple[int, int]]:
    """The sizes of its pages, in points."""
    return {(round(w), round(h)) for w, h in (p.get_size() for p in pypdfium2.PdfDocument(pdf))}


def told_in(html: Path) -> str:
    """The words of a record's HTML, as a person reads them."""
    body = html.read_text(encoding="utf-8").partition("<body>")[2]
    return " ".join(unescape(re.sub("<[^>]*>", " ", body)).split())


@pytest.mark.proof
def test_what_is_told_stands_in_both_forms_and_is_kept(
    run: Run, hall_mirror: tuple[str, Path], tmp_path: Path
) -> None:
    html, pdf = tmp_path / "record.html", tmp_path / "record.PDF"
    asked = ("record", "hall mirror", "--zone", ZONES[0], *hall_mirror)
    ran = run(*asked, "--out", html, *TOLD)
    assert ran.out == f"The record of hall mirror is written to {html}.\n"
    # Nothing is told again: it was kept.
    assert run("record", "hall mirror", "--out", pdf, *hall_mirror).status == 0
    words = told_in(html)
    edge, flat = words.split("Condition, and where the repair lies")[1:]
    assert f"{ZONES[0]} Damaged: corner knocked off, gesso lost." in words
    for told in (
        "Condition when it came two cracks in the mitre",
        "Place and size of the repair upper left, 4 by 7 cm",
    ):
        assert told in edge
        assert told not in flat
    assert "Done by A. Gilder" in words
    assert "raw umber wash Müller & Söhne, batch 12" in words
    assert "Name Date Signature A. Gilder" in words
    read = text_of(pdf)
    squeezed = "".join(read.split())
    assert not [word for word in words.split() if word not in squeezed]
    assert "page 2 of" in read
    assert pdf.read_bytes().startswith(b"%PDF")
    assert sizes_of(pdf) == {A4}
    # It is known as a record, and written over; nothing else is.
    assert run("record", "hall mirror", "--out", pdf, *hall_mirror).status == 0
    pdf.write_bytes(b"%PDF- of another")
    refused(run("record", "hall mirror", "--out", pdf, *hall_mirror), "is not a record")


def test_what_cannot_be_kept_of_a_piece_is_one_sentence(
    run: Run, hall_mirror: tuple[str, Path], tmp_path: Path
) -> None:
    asked = ("record", "hall mirror", "--out", tmp_path / "record.html", *hall_mirror)
    refused(run(*asked, "--damage", "a corner"), "say which zone is meant")
    refused(run(*asked, "--maker", "raw umber wash"), "LAYER=WORDS")
    refused(run(*asked, "--maker", "raw amber wash=a maker"), "raw umber wash")
    refused(run(*asked, "--by", "\x00"), "cannot be kept")
    assert not (tmp_path / "record.html").exists()
    # What was told is taken back by an empty word.
    run(*asked, "--by", "A. Gilder", "--maker", "raw umber wash=a maker")
    run(*asked, "--by", "", "--maker", "raw umber wash=")
    words = told_in(tmp_path / "record.html")
    assert "Done by" not in words
    assert "a maker" not in words


def test_the_heading_is_said_once_and_stands_on_every_record(
    run: Run, hall_mirror: tuple[str, Path], tmp_path: Path
) -> None:
    logo, pdf, html = tmp_path / "logo.png", tmp_path / "record.pdf", tmp_path / "record.html"
    Image.new("RGBA", (2000, 500), (200, 0, 0, 128)).save(logo)
    said = run("heading", "--line", "Invented Gilders", "--line", "1 No Street", "--logo", logo,
               "--paper", "Letter")  # fmt: skip
    assert said.out.splitlines()[1:] == [
        "Invented Gilders", "1 No Street", "A logo; PDFs are laid out for Letter paper."
    ]  # fmt: skip
    for out in (pdf, html):
        run("record", "hall mirror", "--out", out, *hall_mirror)
    assert text_of(pdf).startswith("Invented Gilders")
    assert sizes_of(pdf) == {LETTER}
    assert told_in(html).startswith("Invented Gilders 1 No Street")
    assert 'src="data:image/png;base64,' in html.read_text(encoding="utf-8")
    refused(run("heading", "--logo", html), "The logo cannot be read")
    refused(run("heading", "--logo", tmp_path / "none.png"), "cannot be read")
    assert run("heading").out.splitlines()[0] == "Invented Gilders"
    assert run("heading", "--nothing").out.endswith("No logo; PDFs are laid out for A4 paper.\n")
    run("record", "hall mirror", "--out", html, *hall_mirror)
    assert told_in(html).startswith("Still open: burnished edge, matte flat.")


@pytest.mark.proof
def test_a_pdf_needs_no_font_of_the_machine(
    hall_mirror: tuple[str, Path], run: Run, tmp_path: Path
) -> None:
    """As on a bare server: fontconfig is told of an empty folder."""
    settings, pdf, usual = tmp_path / "fonts.conf", tmp_path / "bare.pdf", tmp_path / "usual.pdf"
    settings.write_text(f"<fontconfig><dir>{tmp_path / 'none'}</dir></fontconfig>")
    run("record", "hall mirror", "--out", usual, *hall_mirror)
    command = [sys.executable, "-m", "tonematch.cli", "record", "hall mirror", "--out", pdf]
    subprocess.run(
        list(map(str, [*command, *hall_mirror])),
        env=os.environ | {"FONTCONFIG_FILE": str(settings)},
        check=True,
        capture_output=True,
    )
    assert text_of(pdf) == text_of(usual)


def test_without_a_build_of_the_library_the_html_is_offered(
    run: Run, hall_mirror: tuple[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "plutoprint", None)
    asked = ("record", "hall mirror", *hall_mirror, "--out")
    refused(run(*asked, tmp_path / "record.pdf"), "write the record as HTML")
    assert run(*asked, tmp_path / "record.html").status == 0
