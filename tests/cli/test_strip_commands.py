"""strips: choose them for a gap, print their sheet, read its photograph back; and pieces."""

from pathlib import Path

import pytest

from tests.cli.commands import Ran, Run, refused
from tests.cli.picture_files import FRAME_CORNERS, sheet_picture
from tonematch.logbook.store import open_logbook
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Comparison

MIRROR = "hall mirror"
NEW_GOLD, OLD_GOLD = "89.5,8.4,35.2", "79.3,9.6,33.4"
FEW = ("--shelf", "raw umber wash,dark wax,clear shellac seal", "--number", 4)
COLOURS = [
    ((85.0 - i, 6.0, 33.0), (74.0 - 2 * i, 7.0 + 0.5 * i, 30.0 - i))
    for i in range(4)
]  # fmt: skip


@pytest.fixture
def book(run: Run, tmp_path: Path) -> Path:
    """A logbook with one piece, of water gilding over red bole."""
    path = tmp_path / "book.sqlite"
    ran = run("pieces", "add", MIRROR, "--technique", "water", "--finish", "burnished", "--bole",
              "red", "--logbook", path)  # fmt: skip
    assert ran.status == 0
    return path


def choose(run: Run, book: Path, out: Path, *options: object) -> Ran:
    gap = ("--from", NEW_GOLD, "--to", OLD_GOLD)
    return run("strips", "choose", MIRROR, "--out", out, *gap, *FEW, *options, "--logbook", book)


def read(run: Run, book: Path, photo: Path, *options: object) -> Ran:
    return run("strips", "read", photo, "--piece", MIRROR, "--frame", FRAME_CORNERS, *options,
               "--logbook", book)  # fmt: skip


def test_a_sheet_goes_out_and_comes_back_as_trials(run: Run, book: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheet.html"
    chosen = choose(run, book, out, "--json").json
    assert chosen["sheet"] == 1
    strips = chosen["strips"]
    assert [strip["strip"] for strip in strips] == [1, 2, 3, 4]
    assert {strip["layer"] for strip in strips} <= {
        "raw umber wash", "dark wax", "clear shellac seal",
    }  # fmt: skip
    page = out.read_text(encoding="utf-8")
    for strip in strips:
        assert f"{strip['layer']}, strength {strip['strength']:g}" in page
    # Watercolour on bare burnished water gilding is blocked (RU, WR): a seal goes first.
    assert all(
        "clear shellac seal" in strip["first"]
        for strip in strips
        if strip["layer"] == "raw umber wash"
    )
    photo = sheet_picture(tmp_path / "sheet.png", COLOURS)
    found = read(run, book, photo, "--date", "2026-05-31", "--json").json
    assert found["added"] == 4
    for trial, strip, (before, after) in zip(found["trials"], strips, COLOURS, strict=True):
        assert (trial["layer"], trial["strength"], trial["coats"]) == (
            strip["layer"], strip["strength"], strip["coats"],
        )  # fmt: skip
        assert float(delta_e_2000(trial["before"], before)) < 0.3
        assert float(delta_e_2000(trial["after"], after)) < 0.3
    with open_logbook(book) as opened:
        kept = opened.trials(f"test strips for {MIRROR}")
        (kept_photo,) = opened.history(f"test strips for {MIRROR}").photographs
        assert opened.trials(MIRROR) == []
    assert {(t.application.technique, t.date) for t in kept} == {("water", "2026-05-31")}
    assert kept_photo.path.read_bytes() == photo.read_bytes()
    again = read(run, book, photo, "--date", "2026-05-31")
    assert "0 of 4 trials added" in again.out


def test_only_strips_that_were_made(run: Run, book: Path, tmp_path: Path) -> None:
    choose(run, book, tmp_path / "sheet.html")
    photo = sheet_picture(tmp_path / "sheet.png", COLOURS)
    found = read(run, book, photo, "--made", "2,4", "--json").json
    assert [trial["step"] for trial in found["trials"]] == [2, 4]


def test_the_gap_is_that_of_the_last_comparison(
    run: Run, book: Path, tmp_path: Path, comparison: Comparison
) -> None:
    typed = choose(run, book, tmp_path / "typed.html", "--from", "68,6,40", "--to", "60,8,32",
                   "--json").json["strips"]  # fmt: skip
    with open_logbook(book) as opened:
        opened.keep_comparison(MIRROR, comparison)
    ran = run("strips", "choose", MIRROR, "--out", tmp_path / "kept.html", *FEW, "--json",
              "--logbook", book)  # fmt: skip
    assert ran.json["strips"] == typed


def test_nothing_is_guessed_where_there_are_two_sheets(
    run: Run, book: Path, tmp_path: Path
) -> None:
    photo = sheet_picture(tmp_path / "sheet.png", COLOURS)
    refused(read(run, book, photo), "strips choose")
    for name in ("one.html", "two.html"):
        assert choose(run, book, tmp_path / name).out.count("strength") == 4
    refused(read(run, book, photo), "say which with --sheet")
    refused(read(run, book, photo, "--sheet", 9), "say which with --sheet")
    assert read(run, book, photo, "--sheet", 2, "--json").json["sheet"] == 2


def test_a_sheet_is_never_written_over_anything(run: Run, book: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine.html"
    mine.write_text("mine")
    refused(choose(run, book, mine), "exists already")
    refused(choose(run, book, tmp_path / "none" / "sheet.html"), "cannot be written")
    assert mine.read_text() == "mine"
    with open_logbook(book) as opened:
        assert opened.strip_sheets(MIRROR) == []


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--number", 0), "1 to 20"),
        (("--number", 21), "1 to 20"),
        (("--number", "many"), "--number"),
        (("--shelf", "dark wx"), "did you mean 'dark wax'"),
        (("--shelf", "raw umber wash"), "no strip"),
        (("--from", "nan,6,35"), "--from"),
        (("--to", "79,9"), "--to"),
    ],
)
def test_bad_choices(
    run: Run, book: Path, tmp_path: Path, options: tuple[object, ...], words: str
) -> None:
    out = tmp_path / "sheet.html"
    refused(choose(run, book, out, *options), words)
    assert not out.exists()


def test_choosing_needs_a_piece_and_a_gap(run: Run, book: Path, tmp_path: Path) -> None:
    out, empty = ("--out", tmp_path / "sheet.html"), tmp_path / "empty.sqlite"
    refused(run("strips", "choose", MIRROR, *out, "--logbook", empty), "has none yet")
    refused(run("strips", "choose", "hal miror", *out, "--logbook", book), "'hall mirror'")
    refused(run("strips", "choose", MIRROR, *out, "--logbook", book), "--from and --to")
    one = run("strips", "choose", MIRROR, *out, "--from", NEW_GOLD, "--logbook", book)
    refused(one, "both --from and --to")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--frame", "1,2,3,4"), "eight numbers"),
        (("--frame", "0,0,800,900,800,0,0,900"), "no frame"),
        (("--frame", "0,0,9000,0,9000,9000,0,9000"), "outside"),
        (("--made", "one"), "whole numbers"),
        (("--made", "5"), "no strip 5"),
        (("--date", "31.5.2026"), "year first"),
        (("--card", "1,1"), "is not a box"),
        (("--card", "1,1,9000,9"), "outside"),
        (("--card-reflectance", "18"), "reflectance of 18"),
        (("--piece", "hal miror"), "'hall mirror'"),
    ],
)
def test_bad_readings_keep_nothing(
    run: Run, book: Path, tmp_path: Path, options: tuple[object, ...], words: str
) -> None:
    choose(run, book, tmp_path / "sheet.html")
    photo = sheet_picture(tmp_path / "sheet.png", COLOURS)
    refused(read(run, book, photo, *options), words)
    with open_logbook(book) as opened:
        assert opened.trials() == []


def test_photographs_without_strips(run: Run, book: Path, tmp_path: Path) -> None:
    choose(run, book, tmp_path / "sheet.html")
    refused(read(run, book, tmp_path / "none.png"), "no file")
    burnt_out = sheet_picture(tmp_path / "sheet.png", [((120.0, 0.0, 0.0),) * 2] * 4)
    refused(read(run, book, burnt_out), "No strip of the sheet could be read. Strip 1")


def test_a_strip_that_cannot_be_read_is_named(run: Run, book: Path, tmp_path: Path) -> None:
    choose(run, book, tmp_path / "sheet.html")
    white = (120.0, 0.0, 0.0)
    photo = sheet_picture(tmp_path / "sheet.png", [(white, white), *COLOURS[1:]])
    told = read(run, book, photo).out
    assert "3 of 3 trials added" in told
    assert "Note: Strip 1 is left out." in told


def test_pieces_are_listed_and_none_is_lost(run: Run, book: Path) -> None:
    refused(run("pieces", "add", MIRROR, "--logbook", book), "already")
    refused(run("pieces", "add", " ", "--logbook", book), "name")
    refused(run("pieces", "add", "x", "--tolerance", -1, "--logbook", book), "tolerance of -1")
    refused(run("pieces", "add", "x", "--technique", "fire", "--logbook", book), "--technique")
    refused(run("pieces", "add", "x", "--laid", "dark wx", "--logbook", book), "'dark wax'")
    told = run("pieces", "list", "--logbook", book).out.splitlines()
    assert told == [f"{MIRROR}: gilding water, burnished; tolerance CIEDE2000 2", "Pieces: 1."]


def test_what_is_said_of_a_piece_is_kept(run: Run, book: Path) -> None:
    said = ("--hangs-in", "hall, north light", "--wish", "aged in", "--logbook", book)
    assert run("pieces", "add", "pier glass", *said).status == 0
    with open_logbook(book) as logbook:
        piece = logbook.piece("pier glass")
    assert (piece.hangs_in, piece.wish) == ("hall, north light", "aged in")


def test_what_lies_on_the_piece_counts(run: Run, book: Path, tmp_path: Path) -> None:
    """Nothing holds over wax (from memory): on a waxed piece no wash is tried."""
    run("pieces", "add", "waxed", "--technique", "water", "--laid", "dark wax", "--logbook", book)
    ran = run("strips", "choose", "waxed", "--out", tmp_path / "s.html", "--from", NEW_GOLD, "--to",
              OLD_GOLD, "--shelf", "raw umber wash", "--logbook", book)  # fmt: skip
    refused(ran, "no strip")
