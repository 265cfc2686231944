"""A logbook out and in whole: nothing is lost, nothing doubled, and nothing unsound comes in."""

import csv
import io
import json
import shutil
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.cases import few_of
from tests.cli.commands import Run, refused
from tests.logbook.laying import lay
from tests.logbook.test_migrations import older_logbook
from tests.logbook.test_store import assert_same
from tests.logbook.whole_logbook import FORMULA, files_in, pack, pictures, rows
from tonematch.logbook.archive.writing import table_files
from tonematch.logbook.database.sums import sum_of
from tonematch.logbook.store import open_logbook
from tonematch.measure.core import Comparison
from tonematch.toning.core import Trial

PHOTOGRAPHS = "photographs"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the archive is made once."""
    return tmp_path_factory.mktemp("made")


@pytest.fixture
def archive(run: Run, made: Path, book: Path) -> Path:
    if not (made / "book.zip").exists():
        ran = run("logbook", "export", made / "book.zip", "--logbook", book)
        assert ran.out.startswith(f"Written to {made / 'book.zip'}: ")
    return Path(shutil.copy(made / "book.zip", book.with_suffix(".zip")))


def test_all_of_it_comes_back(run: Run, book: Path, archive: Path, tmp_path: Path) -> None:
    other, again = tmp_path / "other.sqlite", tmp_path / "again.zip"
    ran = run("logbook", "import", archive, "--logbook", other)
    assert ran.out.startswith(f"A new logbook was made: {other}.")
    assert "pieces 3, " in ran.out
    assert ", photographs 6" in ran.out
    assert rows(other) == rows(book)
    assert pictures(other) == pictures(book)
    run("logbook", "export", again, "--logbook", other)
    assert again.read_bytes() == archive.read_bytes()


@pytest.mark.proof
def test_heading_and_cards_go_along_and_another_workshops_stay(
    run: Run, book: Path, persons_folder: Path, tmp_path: Path
) -> None:
    archive, again, stick = tmp_path / "a.zip", tmp_path / "again.zip", tmp_path / "stick"
    run("heading", "--line", "Invented Gilders", "--paper", "Letter")
    run("cards", "--white", "0.85")
    run("logbook", "export", archive, "--logbook", book)
    ran = run("logbook", "backup", stick, "--logbook", book)
    assert "With it: your heading and your cards." in ran.out
    own = {file.name: file.read_bytes() for file in persons_folder.iterdir()}
    taken = "Taken with it: your heading and your cards."
    for command in (("import", archive), ("restore", stick)):
        shutil.rmtree(persons_folder)
        assert taken in run("logbook", *command, "--logbook", tmp_path / f"{command[0]}.sqlite").out
        assert {file.name: file.read_bytes() for file in persons_folder.iterdir()} == own
    run("logbook", "export", again, "--logbook", tmp_path / "import.sqlite")
    assert again.read_bytes() == archive.read_bytes()
    run("heading", "--line", "Others")
    others = (persons_folder / "heading.json").read_bytes()
    for command in (("import", archive), ("restore", stick)):
        ran = run("logbook", *command, "--logbook", book)
        assert "another heading (workshop/heading.json): yours stay as they are." in ran.out
        assert "Taken with it" not in ran.out
        assert (persons_folder / "heading.json").read_bytes() == others
    run("logbook", "backup", stick, "--logbook", book)
    kept = {file.read_bytes() for file in (stick / "workshop").iterdir()}
    assert kept == {*own.values(), others}  # nothing in a backup is written over
    run("logbook", "export", archive.with_name("one.zip"), "--piece", "frame", "--logbook", book)
    assert not [n for n in files_in(archive.with_name("one.zip")) if n.startswith("workshop")]


def test_the_archive_can_be_read_without_tonematch(archive: Path, book: Path) -> None:
    files = files_in(archive)
    held = rows(book)
    for table in held.keys() - {"alembic_version"}:
        assert len(json.loads(files[f"json/{table}.json"])) == len(held[table])
        assert len(list(csv.DictReader(_lines(files, table)))) == len(held[table])
        assert f"  {table}: " in files["README.txt"].decode()
    originals = {d for n, d in files.items() if n.startswith(PHOTOGRAPHS)}
    assert originals == set(pictures(book).values())
    for line in files["sha256sums.txt"].decode().splitlines():
        assert line.split("  ")[1] in files


def _lines(files: dict[str, bytes], table: str) -> io.StringIO:
    return io.StringIO(files[f"csv/{table}.csv"].decode(), newline="")


def test_no_cell_is_run_by_a_spreadsheet_and_each_comes_back(
    run: Run, archive: Path, book: Path, tmp_path: Path
) -> None:
    """Beginnings: OWASP, CSV Injection (=, +, -, @, tab, carriage return), from memory."""
    files, table = files_in(archive), tmp_path / "trials.csv"
    texts = [FORMULA, "-2+3", "+wrong pot", "@misread", "=mirror"]
    assert run("trials", "export", table, "--logbook", book).status == 0
    files["csv/as a table.csv"] = table.read_bytes()
    cells = [
        cell
        for name in files
        if name.startswith("csv/")
        for row in csv.reader(io.StringIO(files[name].decode(), newline=""))
        for cell in row
    ]
    run_by_one = [c for c in cells if c[:1] in ("=", "+", "-", "@", "\t", "\r")]
    assert all(np.isfinite(float(cell)) for cell in run_by_one)
    assert {f"'{text}" for text in texts} <= set(cells)
    other = tmp_path / "other.sqlite"
    assert run("trials", "import", table, "--logbook", other).status == 0
    with open_logbook(other) as new, open_logbook(book) as old:
        # A table holds colours alone, not how sure the photographs made them.
        stated = [replace(t, before_covariance=None, after_covariance=None) for t in old.trials()]
        assert_same(tuple(new.trials()), tuple(stated))


def test_one_piece_alone(run: Run, book: Path, tmp_path: Path) -> None:
    out, other = tmp_path / "frame.zip", tmp_path / "other.sqlite"
    assert run("logbook", "export", out, "--piece", "frame", "--logbook", book).status == 0
    run("logbook", "import", out, "--logbook", other)
    with open_logbook(other) as new, open_logbook(book) as old:
        assert [piece.name for piece in new.pieces()] == ["frame"]
        one, known = new.history("frame"), old.history("frame")
    assert len(one.changes) == len(known.changes) == 3
    told = run("logbook", "undo", "--list", "--logbook", other).out
    assert "excluded" not in told  # that it was undone goes along
    assert_same(replace(one, photographs=()), replace(known, photographs=()))
    assert [p.sha256 for p in one.photographs] == [p.sha256 for p in known.photographs]
    refused(run("logbook", "export", tmp_path / "x.zip", "--piece", "fram", "--logbook", book),
            "nearest name is 'frame'")  # fmt: skip
    assert not (tmp_path / "x.zip").exists()


@pytest.mark.proof
def test_into_a_logbook_that_holds_something(
    run: Run, book: Path, archive: Path, tmp_path: Path, comparison: Comparison, trial: Trial
) -> None:
    other = tmp_path / "other.sqlite"
    run("pieces", "add", "bracket", "--logbook", other)
    with open_logbook(other) as new:
        new.keep_photo(b"of the bracket", "a.jpg", "bracket")
        new.keep_comparison("bracket", comparison)
        new.exclude_trial(new.add_trial(replace(trial, piece="bracket")), "not the frame")
        bracket = new.history("bracket")
    ran = run("logbook", "import", archive, "--logbook", other)
    assert "Here already" not in ran.out
    with open_logbook(other) as new, open_logbook(book) as old:
        assert_same(new.history("bracket"), replace(bracket, layers=new.history("bracket").layers))
        for name in ("frame", "=mirror"):
            one, known = new.history(name), old.history(name)
            assert_same(one.piece, known.piece)
            for mine, theirs in zip(one.comparisons, known.comparisons, strict=True):
                assert_same(mine.comparison, theirs.comparison)
                assert_same(mine.original.aids, theirs.original.aids)
            assert [c.words for c in one.changes] == [c.words for c in known.changes]
            assert len(one.trials) == len(known.trials)
        assert one.in_progress is None
        (number,) = new.corrected_trials()
        new.put_back_trial(number)  # its earlier readings are those of this logbook
        assert new.kept_trials("frame")[0].trial.note == FORMULA
    before = rows(other)
    ran = run("logbook", "import", archive, "--logbook", other)
    assert ran.out.startswith(f"Brought in from {archive}: nothing new.\nHere already, ")
    assert ran.out.endswith("the archive says otherwise of: trials 1.\n")
    assert rows(other) == before


def test_what_was_changed_since_is_not_doubled(
    run: Run, book: Path, archive: Path, trial: Trial
) -> None:
    run("pieces", "gilding", "frame", "--bole", "red", "--logbook", book)
    run("trials", "leave-out", "1", "--logbook", book)
    run("shelf", "rename", "rub", "rub to pink", "--logbook", book)
    with open_logbook(book) as opened:
        opened.change_piece("frame", replace(opened.piece("frame"), name="hall frame"))
        opened.correct_trial(3, replace(trial, after=trial.after - 1.0))
        opened.add_findings(1, ["The repair is too shiny."])
        (kept, *_) = opened.history("hall frame").comparisons
        shiny = replace(kept.comparison.repair, lustre=1.5)
        opened.keep_lustre(kept.id, replace(kept.comparison, repair=shiny))
        (laid,) = (opened.layer_in_progress("hall frame"),)
        assert laid is not None
        opened.call_off_layer(laid.id)
    before = rows(book)
    ran = run("logbook", "import", archive, "--logbook", book)
    assert "nothing new" in ran.out
    assert rows(book) == before


def test_a_piece_that_two_benches_named_alike_is_one(
    run: Run, archive: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.sqlite"
    run("pieces", "add", "frame", "--bole", "black", "--logbook", other)
    ran = run("logbook", "import", archive, "--logbook", other)
    assert "Here already, and left as they are: pieces 1." in ran.out
    assert "the archive says otherwise of: pieces 1." in ran.out
    with open_logbook(other) as opened:
        assert opened.piece("frame").bole == "black"
        assert len(opened.kept_trials("frame")) == 3


def test_a_piece_that_is_one_gold_here_and_has_zones_there_stays_apart(
    run: Run, archive: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.sqlite"
    run("pieces", "add", "console", "--logbook", other)
    before = rows(other)
    words = "console is one gold here or in"
    refused(run("logbook", "import", archive, "--logbook", other), words)
    assert (rows(other), pictures(other)) == (before, {})


@pytest.mark.proof
def test_an_archive_of_an_earlier_version(
    run: Run, book: Path, archive: Path, tmp_path: Path
) -> None:
    older = tmp_path / "older" / "logbook.sqlite"
    older.parent.mkdir()
    older_logbook(older, "0004", book)
    files = {n: d for n, d in files_in(archive).items() if not n.startswith(("json/", "csv/"))}
    with closing(sqlite3.connect(older)) as opened:
        opened.row_factory = sqlite3.Row
        entries = {}
        for (table,) in opened.execute("SELECT name FROM sqlite_master WHERE type='table'"):
            if table != "alembic_version":
                found = map(dict, opened.execute(f"SELECT * FROM {table}"))
                entries[table] = [{c: _read(c, v) for c, v in row.items()} for row in found]
    files |= dict(table_files(entries))
    files["contents.json"] = b'{"form": 1, "revision": "0004", "lost": []}'
    other = tmp_path / "other.sqlite"
    run("logbook", "import", pack(tmp_path / "old.zip", files), "--logbook", other)
    with open_logbook(other) as new, open_logbook(older) as old:
        assert_same(new.history("frame").trials, old.history("frame").trials)
        assert_same(tuple(new.own_layers()), tuple(old.own_layers()))
    assert rows(other) == rows(older)


def _read(column: str, value: object) -> object:
    if column in ("invented", "excluded"):
        return bool(value)
    return json.loads(value) if isinstance(value, str) and value[:1] in ("[", "{") else value


Unsound = Callable[[dict[str, bytes]], dict[str, bytes]]


def _more(**files: bytes) -> Unsound:
    return lambda held: held | {name.replace("__", "/"): data for name, data in files.items()}


def _without(start: str) -> Unsound:
    return lambda held: {name: data for name, data in held.items() if not name.startswith(start)}


def _row(table: str, column: str, value: object) -> Unsound:
    """The first row says otherwise, as JSON and as CSV, under a sum of what it says unless told."""

    def changed(held: dict[str, bytes]) -> dict[str, bytes]:
        entries = json.loads(held[f"json/{table}.json"])
        changed = entries[0] | {column: value}
        entries[0] = {**changed, "sum": sum_of(changed), column: value}
        return held | dict(table_files({table: entries}))

    return changed


@pytest.mark.parametrize(
    ("unsound", "words"),
    few_of(
        [
            (_more(**{"../evil.txt": b"x"}), "'../evil.txt', which no archive of a logbook has"),
            (_more(**{"/etc/evil": b"x"}), "which no archive"),
            (_more(**{"photographs/../../evil.jpg": b"x"}), "which no archive"),
            (_more(**{f"photographs/{'0' * 64}.jpg": b"x"}), "photographs are not those"),
            (_without(PHOTOGRAPHS), "photographs are not those that its rows tell of"),
            (_without("csv/trials"), "do not say the same as JSON and as CSV"),
            (_more(**{"csv/trials.csv": b"layer\n"}), "do not say the same as JSON and as CSV"),
            (_more(**{"contents.json": b'{"form": 2}'}), "newer tonematch: install the newest"),
            (
                _more(**{"contents.json": b'{"form": 1, "revision": "9999", "lost": []}'}),
                "was made by a newer tonematch",
            ),
            (_more(**{"contents.json": b"[]"}), "is no archive of a logbook, or is damaged"),
            (_more(**{"json/pieces.json": b"0" * 10_000_000}), "far more than it can hold"),
            (_more(workshop__passwd=b"x"), "which no archive of a logbook has"),
            (
                _more(**{"workshop/heading.json": b'{"words": 5}'}),
                "heading.json in it cannot be used",
            ),
            (_more(**{"workshop/cards.toml": b"white = 0.1"}), "cards.toml in it cannot be used"),
            (_row("trials", "strength", -1.0), "no logbook can hold a row of its table trials"),
            (_row("layers", "entry", {"notes": 1}), "layers, row 1, column entry"),
            (_row("trials", "kind", "wbsh"), "trials, row 1, column kind"),
            (
                _row("trials", "sum", "0" * 16),
                "no logbook can hold what it says in table trials, row 1",
            ),
            (_row("trials", "before_L", "x"), "no logbook can hold"),
            (_row("trials", "piece_id", 99), "no logbook can hold a row of its table trials"),
            (_row("trials", "id", 2**70), "no logbook can hold a row of its table trials"),
            (_row("trials", "another", 1), "its table trials has not the columns of one"),
            (_row("changes", "row_id", 99), "a change in it is of a row that is not there"),
            (_row("photographs", "sha256", "0" * 64), "photographs are not those"),
        ],
        6,
    ),
)
def test_what_is_unsound_stays_out(
    run: Run, archive: Path, empty_logbook: Path, tmp_path: Path, unsound: Unsound, words: str
) -> None:
    bad = pack(tmp_path / "bad.zip", unsound(files_in(archive)))
    before = empty_logbook.read_bytes()
    refused(run("logbook", "import", bad, "--logbook", empty_logbook), words)
    assert empty_logbook.read_bytes() == before
    assert pictures(empty_logbook) == {}


def test_a_wrong_sum_a_doubled_file_and_no_archive_at_all(
    run: Run, archive: Path, empty_logbook: Path, tmp_path: Path
) -> None:
    files, bad = files_in(archive), tmp_path / "bad.zip"
    before = empty_logbook.read_bytes()

    def told(words: str) -> None:
        refused(run("logbook", "import", bad, "--logbook", empty_logbook), words)
        assert empty_logbook.read_bytes() == before

    told("cannot be read (No such file")
    with zipfile.ZipFile(bad, "w") as packed:
        for name, data in (files | {"json/layers.json": b"[]"}).items():
            packed.writestr(name, data)
    told("json/layers.json in it is not what was written (wrong checksum)")
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(bad, "a") as packed:
        packed.writestr("json/pieces.json", b"[]")
    told("it holds two files of one name")
    bad.write_bytes(b"Dear owner")
    told("is no archive of a logbook, or is damaged")


def test_two_kinds_of_one_layer_stay_apart(
    run: Run, archive: Path, tmp_path: Path, trial: Trial
) -> None:
    other = tmp_path / "other.sqlite"
    as_glaze = replace(trial, application=replace(trial.application, kind="glaze"), piece="")
    with open_logbook(other) as opened:
        opened.add_trial(as_glaze)
    before = rows(other)
    refused(run("logbook", "import", archive, "--logbook", other), "rename the layer in one")
    assert rows(other) == before
    assert pictures(other) == {}


@pytest.mark.proof
def test_two_layers_in_progress_on_one_piece_stay_apart(
    run: Run, archive: Path, tmp_path: Path, trial: Trial, comparison: Comparison
) -> None:
    other = tmp_path / "other.sqlite"
    run("logbook", "import", archive, "--logbook", other)
    with open_logbook(other) as opened:
        held = opened.layer_in_progress("frame")
        assert held is not None
        opened.call_off_layer(held.id)
        lay(opened, trial.application, comparison)
    late, before = tmp_path / "late.zip", rows(other)
    run("logbook", "export", late, "--logbook", other)
    with open_logbook(other) as opened:
        held = opened.layer_in_progress("frame")
        assert held is not None
        opened.call_off_layer(held.id)
    third = tmp_path / "third.sqlite"
    run("logbook", "import", archive, "--logbook", third)
    refused(run("logbook", "import", late, "--logbook", third), "log the one here or call it off")
    with open_logbook(third) as opened:
        held = opened.layer_in_progress("frame")
        assert held is not None
        opened.call_off_layer(held.id)
    run("logbook", "import", late, "--logbook", third)
    assert {t: len(found) for t, found in rows(third).items()} == {
        t: len(found) for t, found in before.items()
    }


@pytest.mark.parametrize(
    ("command", "what"),
    [
        (("trials", "export"), "the file of trials"),
        (("logbook", "export"), "the archive"),
        (("record", "frame", "--out"), "the record"),
    ],
)
def test_what_cannot_be_written_is_told_in_one_way(
    run: Run, book: Path, tmp_path: Path, command: tuple[str, ...], what: str
) -> None:
    out = tmp_path / "none" / "of.html"
    ran = run(*command, out, "--logbook", book)
    refused(ran, f"{out} cannot be written (No such file or directory): give {what} another name")


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (("record", "frame", "--out", "frame.docx"), "record end in .pdf or .html or .htm."),
        (("strips", "choose", "frame", "--out", "s.pdf"), "sheet end in .html or .htm."),
    ],
)
def test_a_name_that_says_another_kind_of_file_is_refused(
    run: Run, book: Path, command: tuple[str, ...], words: str
) -> None:
    *asked, name = command
    out = book.parent / name
    refused(run(*asked, out, "--logbook", book), words)
    assert not out.exists()


def test_a_folder_that_is_not_there_is_told_before_anything_is_measured(
    run: Run, tmp_path: Path
) -> None:
    out = tmp_path / "none" / "lamp.json"
    refused(run("profile", "none.jpg", "--out", out), "give the profile another name")
