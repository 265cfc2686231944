"""Killed programs, full and read-only disks, mutated files: what was kept is there afterwards."""

import hashlib
import json
import random
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from tests.cases import few_of, in_ci
from tests.cli.commands import Ran, Run, refused
from tests.cli.test_hostile_places import own_disk, process
from tests.logbook.kills import DRAFT, SMALL, run_alone, run_and_kill
from tests.logbook.test_kept_form import STEPS, TEXTS
from tests.logbook.whole_logbook import files_in, pack, pictures, rows
from tonematch.logbook.archive.writing import table_files
from tonematch.logbook.core import Draft
from tonematch.logbook.database.copies import copies_in, usual_copies
from tonematch.logbook.store import open_logbook


def few_and(many: int, few: int) -> list[object]:
    """A few seeds for a newcomer, and many more as a proof."""
    proof = in_ci(range(few, many), id="many")
    return [pytest.param(range(few), id="few"), proof]


MOMENTS, SPOILED = few_and(24, few=1), few_and(120, few=3)


@pytest.fixture
def archive(run: Run, book: Path, tmp_path: Path) -> Path:
    path = tmp_path / "book.zip"
    assert run("logbook", "export", path, "--logbook", book).status == 0
    return path


def opened_rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """What a logbook holds once it is opened again after a kill."""
    open_logbook(path).close()
    return rows(path)


@pytest.mark.proof
@pytest.mark.parametrize("moments", MOMENTS)
def test_an_export_is_whole_or_not_there(book: Path, archive: Path, moments: range) -> None:
    out, held = book.with_name("out.zip"), rows(book)
    seconds = run_alone("logbook", "export", out, "--logbook", book)
    for moment in moments:
        out.unlink(missing_ok=True)
        run_and_kill(random.Random(moment), seconds, "logbook", "export", out, "--logbook", book)
        assert not out.exists() or out.read_bytes() == archive.read_bytes()
        assert opened_rows(book) == held


@pytest.mark.proof
@pytest.mark.parametrize("moments", MOMENTS)
def test_an_import_is_whole_or_not_there(
    book: Path, archive: Path, empty_logbook: Path, moments: range
) -> None:
    other, nothing = book.with_name("other.sqlite"), rows(empty_logbook)
    command = ("logbook", "import", archive, "--logbook", other)
    shutil.copy(empty_logbook, other)
    seconds = run_alone(*command)
    for moment in moments:
        shutil.copy(empty_logbook, other)
        shutil.rmtree(book.with_name("other photographs"), ignore_errors=True)
        run_and_kill(random.Random(moment), seconds, *command)
        there = opened_rows(other)
        assert there in (nothing, rows(book))
        if there != nothing:
            assert pictures(other).items() >= pictures(book).items()
        run_alone(*command)
        assert rows(other) == rows(book)


@pytest.mark.parametrize("moments", MOMENTS)
def test_a_backup_is_whole_or_not_there(book: Path, tmp_path: Path, moments: range) -> None:
    held, stick = rows(book), tmp_path / "stick"
    command = ("logbook", "backup", stick, "--logbook", book)
    seconds = run_alone(*command)
    for moment in moments:
        shutil.rmtree(stick)
        run_and_kill(random.Random(moment), seconds, *command)
        assert opened_rows(book) == held
        stick.mkdir(exist_ok=True)
        assert all(rows(copy) == held for copy in copies_in(stick))
        kept = pictures(book)
        whole = {n: d for n, d in pictures(stick / book.name).items() if ".tonematch" not in n}
        assert whole.items() <= kept.items()


@pytest.mark.proof
@pytest.mark.parametrize("moments", MOMENTS)
def test_a_restore_leaves_the_one_or_the_other(
    run: Run, book: Path, tmp_path: Path, moments: range
) -> None:
    older, stick = rows(book), tmp_path / "stick"
    run("logbook", "backup", stick, "--logbook", book)
    run("pieces", "add", "bracket", "--logbook", book)
    newer, later = rows(book), shutil.copy(book, tmp_path / "later.sqlite")
    command = ("logbook", "restore", stick, "--may-shrink", "--logbook", book)
    seconds = run_alone(*command)
    for moment in moments:
        shutil.copy(later, book)
        shutil.rmtree(usual_copies(book), ignore_errors=True)
        run_and_kill(random.Random(moment), seconds, *command)
        there = opened_rows(book)
        assert there in (older, newer)
        aside = copies_in(usual_copies(book))
        assert there == newer or rows(aside[0]) == newer


@pytest.mark.proof
@pytest.mark.parametrize("text", TEXTS, ids=STEPS)
def test_an_older_logbook_is_brought_up_to_date_or_is_as_it_was(
    run: Run, tmp_path: Path, text: Path
) -> None:
    """By whatever command opens it; the file as it was lies beside it, whole."""
    kept, path = tmp_path / "kept.sqlite", tmp_path / "book.sqlite"
    with closing(sqlite3.connect(kept)) as made:
        made.executescript(text.read_text(encoding="utf-8"))
    held, command = rows(kept), ("trials", "list", "--logbook", path)
    shutil.copy(kept, path)
    seconds = run_alone(*command)
    done = rows(path)
    assert done != held
    for moment in range(6):
        for copy in tmp_path.glob("book *.sqlite"):
            copy.unlink()
        shutil.copy(kept, path)
        run_and_kill(random.Random(moment), seconds, *command)
        with closing(sqlite3.connect(path)) as opened:  # which ends what the kill left open
            opened.execute("SELECT count(*) FROM trials").fetchone()
        assert rows(path) in (held, done)
        copies = list(tmp_path.glob("book *.sqlite"))
        assert all(rows(copy) == held for copy in copies)
        assert copies or rows(path) == held
        assert opened_rows(path) == done
        assert "Nothing is wrong" in run("logbook", "check", "--logbook", path).out


WRITES = {
    "undo": (("trials", "leave-out", 1), ("logbook", "undo")),
    "empty": (("pieces", "remove", "frame"), ("logbook", "empty", "--yes")),
    "remove": (("pieces", "add", "bracket"), ("pieces", "remove", "frame")),
    "recipe": (("pieces", "add", "bracket"), ("recipes", "add", "kept", "--laid-on", "frame")),
    "use": (("recipes", "add", "kept", "--laid-on", "frame"), ("recipes", "use", "kept", "frame")),
    "trials": (("pieces", "add", "bracket"), ("trials", "import", "trials.csv")),
    "lay": (("page", "compare"), ("page", "lay")),
    "log": (("pieces", "add", "bracket"), ("page", "log")),
    "judge": (("pieces", "add", "bracket"), ("page", "judge")),
}


@pytest.mark.parametrize("moments", MOMENTS)
@pytest.mark.parametrize("kind", few_of(list(WRITES)))
def test_a_write_is_whole_or_not_there(
    run: Run, book: Path, trial_file: Path, tmp_path: Path, kind: str, moments: range
) -> None:
    """And every row has the sum of what it says, whatever the moment."""
    before, command = (
        [trial_file if one == "trials.csv" else one for one in (*words, "--logbook", book)]
        for words in WRITES[kind]
    )
    run_alone(*before)
    held, kept = rows(book), shutil.copy(book, tmp_path / "kept.sqlite")
    seconds = run_alone(*command)
    done = rows(book)
    assert done != held
    for moment in moments:
        shutil.copy(kept, book)
        run_and_kill(random.Random(moment), seconds, *command)
        there = opened_rows(book)
        same = {name: len(found) for name, found in there.items()}
        assert there == held or same == {name: len(found) for name, found in done.items()}
        checked = run("logbook", "check", "--logbook", book)
        assert "cannot be what was written" not in checked.out, checked


@pytest.mark.parametrize("moments", MOMENTS)
def test_what_lies_beside_the_rows_is_whole_or_as_it_was(
    run: Run, book: Path, persons_folder: Path, moments: range
) -> None:
    """A draft with its photographs, a small picture, the workshop's heading."""
    held, heading = rows(book), persons_folder / "heading.json"
    commands = (("page", "draft", book), ("page", "small", book), ("heading", "--line", "B" * 999))
    for moment in moments:
        draw = random.Random(moment)
        run("heading", "--line", "A")
        before = heading.read_bytes()
        for command in commands:
            run_and_kill(draw, 0.5, *command)
        with open_logbook(book) as opened:
            draft = opened.draft("frame")
            assert vars(draft) in (vars(Draft()), vars(DRAFT))
            assert opened.small_picture("0" * 64, "a corner", lambda: SMALL) == SMALL
            opened.end_draft("frame")
        for picture in (book.parent / "book small pictures").rglob("*"):
            assert picture.is_dir() or "draft" in picture.name or picture.read_bytes() == SMALL
        shutil.rmtree(book.parent / "book small pictures")
        assert heading.read_bytes() == before or "B" * 999 in run("heading").out
        assert rows(book) == held


@pytest.mark.proof
@pytest.mark.parametrize(
    "command",
    [
        ("export", "disk/out.zip"),
        ("import", "book.zip"),
        ("backup", "disk/stick"),
        ("restore", "stick"),
    ],
)
def test_a_full_disk_is_told_and_nothing_is_half_there(
    run: Run, book: Path, archive: Path, tmp_path: Path, command: tuple[str, str]
) -> None:
    assert archive.exists()
    disk, small = tmp_path / "disk", tmp_path / "small.sqlite"
    disk.mkdir()
    run("logbook", "backup", tmp_path / "stick", "--logbook", book)
    run("pieces", "add", "bracket", "--logbook", small)
    what, where = command
    fill = f'cp "{small}" "{disk}" && dd if=/dev/zero of="{disk}/fill" bs=1k >/dev/null 2>&1;'
    target = book if what in ("export", "backup") else disk / small.name
    after = f'"$@"; echo $?; ls -A "{disk}"; sha256sum < "{disk / small.name}"'
    first = (*own_disk(disk, fill)[:-2], own_disk(disk, fill)[-2].replace('exec "$@"', after), "sh")
    ran = process("logbook", what, tmp_path / where, "--logbook", target, first=first)
    status, *there, digest = ran.out.splitlines()
    assert (status, len(ran.err.splitlines())) == ("2", 1), ran
    assert any(words in ran.err for words in ("free some space", "on a disk with room"))
    assert not [name for name in there if "draft" in name or name.endswith((".zip", "-journal"))]
    assert digest.split()[0] == hashlib.sha256(small.read_bytes()).hexdigest()


@pytest.mark.proof
def test_a_logbook_on_read_only_media_goes_out_and_is_checked(
    book: Path, archive: Path, tmp_path: Path
) -> None:
    disk, out = tmp_path / "disk", tmp_path / "out.zip"
    disk.mkdir()
    first = own_disk(
        disk, f'mount -o remount,size=9m "{disk}" && cp -r "{tmp_path}"/book* "{disk}" && '
        f'mount -o remount,ro "{disk}" &&',
    )  # fmt: skip
    kept = disk / book.name
    assert process("logbook", "export", out, "--logbook", kept, first=first).status == 0
    assert out.read_bytes() == archive.read_bytes()
    ran = process("logbook", "check", "--logbook", kept, first=first)
    assert "Nothing is wrong" in ran.out
    refused(process("logbook", "backup", "--logbook", kept, first=first), "folder writable")


Mutate = Callable[[random.Random, bytes], bytes]


def spoiled(draw: random.Random, data: bytes) -> bytes:
    """A few bytes changed, lost, doubled or cut off."""
    at, until = sorted(draw.randrange(len(data)) for _ in "ab")
    until = min(until, at + draw.choice((1, 4, 64, 4096)))
    some = draw.randbytes(draw.choice((1, 4, 64)))
    return draw.choice(
        (
            data[:at] + some + data[at + len(some) :],
            data[:at] + some + data[at:],
            data[:at] + data[until:],
            data[:until] + data[at:],
            data[:at],
            data[:at] + bytes([data[at] ^ 1 << draw.randrange(8)]) + data[at + 1 :],
        )
    )


def told(ran: Ran) -> bool:
    """Whether a command refused, as it must: by one sentence."""
    if ran.status == 0:
        return False
    assert (ran.status, len(ran.err.splitlines())) == (2, 1), ran
    assert ran.err.rstrip().endswith(".")
    assert "Traceback" not in ran.err
    assert "did not foresee" not in ran.err
    return True


@pytest.mark.parametrize("seeds", SPOILED)
def test_a_spoiled_archive_is_refused_or_says_the_same(
    run: Run, book: Path, archive: Path, empty_logbook: Path, tmp_path: Path, seeds: range
) -> None:
    bad, held, nothing = tmp_path / "bad.zip", rows(book), empty_logbook.read_bytes()
    kept_out = 0
    for seed in seeds:
        bad.write_bytes(spoiled(random.Random(seed), archive.read_bytes()))
        other = tmp_path / f"{seed}.sqlite"
        shutil.copy(empty_logbook, other)
        if told(run("logbook", "import", bad, "--logbook", other)):
            assert (other.read_bytes(), pictures(other)) == (nothing, {}), seed
            kept_out += 1
        else:  # a date or a flag of the zip's own
            assert (rows(other), pictures(other)) == (held, pictures(book)), seed
    assert kept_out > len(seeds) * 0.7


@pytest.mark.proof
@pytest.mark.parametrize("seeds", SPOILED)
def test_a_spoiled_table_under_right_sums_is_refused_or_sound(
    run: Run, archive: Path, empty_logbook: Path, tmp_path: Path, seeds: range
) -> None:
    files, nothing = files_in(archive), empty_logbook.read_bytes()
    names = sorted(name for name in files if name.startswith(("json/", "csv/", "contents")))
    kept_out = 0
    for seed in seeds:
        draw = random.Random(seed)
        name = draw.choice(names)
        changed = {**files, name: spoiled(draw, files[name])}
        try:  # so that what can be read is not refused for the other form alone
            entries = json.loads(changed[name].decode())
            changed |= dict(table_files({Path(name).stem: entries})) if "json/" in name else {}
        except (ValueError, AttributeError, TypeError, LookupError):
            pass
        other = tmp_path / f"{seed}.sqlite"
        shutil.copy(empty_logbook, other)
        bad = pack(tmp_path / "bad.zip", changed)
        if told(run("logbook", "import", bad, "--logbook", other)):
            assert (other.read_bytes(), pictures(other)) == (nothing, {}), seed
            kept_out += 1
        else:
            checked = run("logbook", "check", "--logbook", other)
            assert "Nothing is wrong" in checked.out, (seed, checked)
            for command in ("trials", "pieces", "shelf"):
                assert run(command, "list", "--logbook", other).status == 0, seed
    assert kept_out > len(seeds) * 0.7


@pytest.mark.parametrize("seeds", SPOILED)
def test_a_spoiled_table_of_trials_is_refused_or_taken_whole(
    run: Run, trial_file: Path, empty_logbook: Path, tmp_path: Path, seeds: range
) -> None:
    bad, nothing = tmp_path / "bad.csv", empty_logbook.read_bytes()
    for seed in seeds:
        bad.write_bytes(spoiled(random.Random(seed), trial_file.read_bytes()))
        other = tmp_path / f"{seed}.sqlite"
        shutil.copy(empty_logbook, other)
        if told(run("trials", "import", bad, "--logbook", other)):
            assert other.read_bytes() == nothing
        else:
            assert run("trials", "list", "--logbook", other).status == 0
