"""Full disks, pipes, code pages, read-only media, damaged cells: the real command, as a process.

Limits, streams and a file system of its own are things that only a process can be given.
"""

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from PIL import Image

from tests.cases import few_of
from tests.cli.commands import Ran, Run, refused

ROOT = Path(__file__).resolve().parents[2]
TABLE = (
    "layer,strength,before_L,before_a,before_b,after_L,after_a,after_b\n"
    "raw umber wash,0.5,88,6,35,80,6,33\n"
)
NEEDS_PIPES = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
NEEDS_FULL = pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")


def process(*arguments: object, first: tuple[str, ...] = (), **options: object) -> Ran:
    """The command as a process of its own; a hang fails."""
    command = [*first, sys.executable, "-m", "tonematch.cli", *map(str, arguments)]
    settings = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "timeout": 120, **options}
    ended = subprocess.run(command, cwd=ROOT, check=False, **settings)  # type: ignore[call-overload]
    out = (ended.stdout or b"").decode("utf-8", "replace")
    return Ran(ended.returncode, out, (ended.stderr or b"").decode("utf-8", "replace"))


@pytest.fixture
def book(run: Run, tmp_path: Path) -> Path:
    """A logbook with a trial and a piece whose name no 8-bit code page has."""
    path, table = tmp_path / "book.sqlite", tmp_path / "table.csv"
    table.write_text(TABLE, encoding="utf-8")
    made = run("trials", "import", table, "--logbook", path)
    assert made.out.startswith(f"A new logbook was made: {path}.")
    assert run("pieces", "add", "spiegel Δ łódź", "--logbook", path).status == 0
    return path


@pytest.mark.proof
@pytest.mark.parametrize("page", ["ascii", "cp1252", "latin-1"])
def test_a_code_page_does_not_make_a_refusal_of_what_was_kept(book: Path, page: str) -> None:
    ran = process(
        "pieces", "add", "mirror Δ", "--logbook", book, env={**os.environ, "PYTHONIOENCODING": page}
    )
    assert (ran.status, ran.err) == (0, "")
    assert "is in the logbook" in ran.out


@NEEDS_FULL
@pytest.mark.proof
def test_what_cannot_be_printed_is_told_as_such(run: Run, book: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        ran = process("pieces", "add", "mirror", "--logbook", book, stdout=full)
    assert ran.status == 1
    assert ran.err.startswith("What the command had to do is done, but what it says")
    assert len(ran.err.splitlines()) == 1
    assert "mirror:" in run("pieces", "list", "--logbook", book).out


@NEEDS_PIPES
@pytest.mark.proof
def test_pipes_are_no_files(book: Path, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    boxes = ("--card", "1,1,9,9", "--area", "old=20,20,9,9")
    for command in (
        ("trials", "import", pipe, "--logbook", book),
        ("trials", "list", "--logbook", pipe),
        ("read", pipe, *boxes),
    ):
        refused(process(*command), "it is a pipe or a device and no file")


@pytest.mark.proof
def test_a_picture_beyond_the_memory_is_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "large.png"
    Image.new("RGB", (12_000, 10_000), (119, 119, 119)).save(path, compress_level=1)
    limit = ("sh", "-c", 'ulimit -v 700000; exec "$@"', "limited")
    ran = process(
        "read", path, "--card", "1,1,99,99", "--area", "old=200,200,99,99", first=limit,
        env={**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    refused(ran, "needs more memory than this machine gives")


def own_disk(folder: Path, script: str) -> tuple[str, ...]:
    """A shell with a small disk of its own at a folder; skips where that is not allowed."""
    first = ("unshare", "-rm", "sh", "-c", f'mount -t tmpfs -o size=200k none "{folder}" && '
             f'{script} exec "$@"', "sh")  # fmt: skip
    try:
        subprocess.run([*first, "true"], check=True, capture_output=True, timeout=20)
    except (OSError, subprocess.SubprocessError):
        pytest.skip("needs a file system of its own (unshare)")
    return first


@pytest.mark.proof
def test_demo_on_a_full_disk(tmp_path: Path) -> None:
    ran = process("demo", "--into", tmp_path, first=own_disk(tmp_path, ""))
    refused(ran, "on a disk with room")


@pytest.mark.proof
def test_a_logbook_on_read_only_media_is_read(book: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    first = own_disk(disk, f'cp "{book}" "{disk}" && mount -o remount,ro "{disk}" &&')
    kept = disk / book.name
    assert process("trials", "list", "--logbook", kept, first=first).out.startswith("Trial 1")
    refused(process("pieces", "add", "x", "--logbook", kept, first=first), "cannot be written")


def test_an_empty_logbook_beside_photographs_is_refused(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "book photographs" / "ab"
    folder.mkdir(parents=True)
    (folder / "abc.jpg").write_bytes(b"picture")
    path = tmp_path / "book.sqlite"
    refused(run("pieces", "add", "x", "--logbook", path), "although its photographs lie in")
    assert not path.exists()
    path.touch()
    refused(run("pieces", "list", "--logbook", path), "is empty, although its photographs lie in")
    assert path.read_bytes() == b""


def test_a_mistyped_logbook_makes_nothing(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "typo" / "book.sqlite"
    for command in (("trials", "list"), ("shelf", "list"), ("pieces", "list"), ("doubts",)):
        refused(run(*command, "--logbook", path), "There is no logbook")
    refused(run("pieces", "add", "x", "--logbook", path), "there is no folder")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("change", "place"),
    few_of(
        [
            ("UPDATE trials SET kind = 'wbsh'", "trials, row 1, column kind"),
            ("UPDATE trials SET before_b = 'x'", "trials, row 1, column before_b"),
            ("UPDATE trials SET note = CAST(x'ff41' AS TEXT)", "trials, row 1, column note"),
            ("UPDATE trials SET cautions = '[\"'", "trials, row 1, column cautions"),
            ("UPDATE trials SET cautions = 1e9", "trials, row 1, column cautions"),
            (
                "UPDATE trials SET prediction = '{\"lab\": [1, 2]}'",
                "trials, row 1, column prediction",
            ),
        ],
    ),
)
def test_damage_in_a_cell_names_its_row(run: Run, book: Path, change: str, place: str) -> None:
    with closing(sqlite3.connect(book)) as opened:
        opened.execute(change)
        opened.commit()
    for asked in ((), ("--like", "70,5,30")):
        refused(run("trials", "list", *asked, "--logbook", book), f"is damaged in table {place}:")


def test_names_have_a_length(run: Run, book: Path, tmp_path: Path) -> None:
    name = "a" * 101
    words = "101 characters; write at most 100"
    refused(run("pieces", "add", name, "--logbook", book), words)
    refused(run("shelf", "add", name, "--kind", "wash", "--logbook", book), words)
    assert run("shelf", "add", "tea", "--kind", "wash", "--logbook", book).status == 0
    refused(run("shelf", "rename", "tea", name, "--logbook", book), words)
    kept = "10001 characters; write at most 10000"
    reason = ("--reason", "a" * 10_001)
    refused(run("shelf", "rename", "tea", "weak tea", *reason, "--logbook", book), kept)
    refused(run("trials", "leave-out", "1", *reason, "--logbook", book), kept)
    table = tmp_path / "long.csv"
    head, row = TABLE.splitlines()
    table.write_text(f"{head},kind\n{row.replace('raw umber wash', name)},wash\n")
    refused(run("trials", "import", table, "--logbook", book), words)
