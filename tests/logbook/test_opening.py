"""Whose file it is, tables brought up to date, and faults in one sentence."""

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from tests.logbook.conftest import in_a_file
from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece
from tonematch.logbook.database.copies import copies_in, keep_copy, usual_copies
from tonematch.logbook.database.file_place import FilePlace
from tonematch.logbook.database.opening import MIGRATIONS, known_revisions, open_engine
from tonematch.logbook.database.tables import Base
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.toning.core import Trial


def refusal(path: Path) -> str:
    with pytest.raises(LogbookError) as caught:
        open_logbook(path)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    assert str(path) in sentence
    return sentence


@pytest.mark.parametrize("until", ["head", known_revisions()[0]], ids=["at once", "by steps"])
def test_a_new_logbook_has_the_tables_that_the_models_describe(tmp_path: Path, until: str) -> None:
    engine = open_engine(FilePlace(tmp_path / "new.sqlite"), 1.0, until=until)
    assert "tolerance > 0" in {
        check["sqltext"] for check in inspect(engine).get_check_constraints("pieces")
    }
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []
        assert context.get_current_revision() == known_revisions()[0]


def test_a_model_that_the_migrations_do_not_know_would_be_seen(logbook: Logbook) -> None:
    """The check above can fail: take a table away and it is missed."""
    with logbook.engine.begin() as connection:
        connection.exec_driver_sql("DROP TABLE layers")
    with logbook.engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, Base.metadata) != []


@in_a_file
def test_file_says_that_it_is_a_logbook_and_keys_are_on(logbook: Logbook) -> None:
    with logbook.engine.connect() as connection:
        number = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
        assert int(number).to_bytes(4, "big") == b"tone"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar_one() == 3
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "delete"


def test_usual_place_is_the_users_data_folder(persons_folder: Path) -> None:
    with open_logbook() as opened:
        assert opened.path == persons_folder / "logbook.sqlite"
    assert (persons_folder / "logbook.sqlite").is_file()


def test_folder_is_no_logbook(tmp_path: Path) -> None:
    assert "is a folder" in refusal(tmp_path)


@pytest.mark.parametrize("content", [b"Dear owner,\n", b"x", b"SQLite format 3\0" + bytes(84)])
def test_other_file_is_refused_and_left_as_it_is(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "letter.txt"
    path.write_bytes(content)
    assert "is not a logbook" in refusal(path)
    assert path.read_bytes() == content
    assert list(tmp_path.iterdir()) == [path]


def test_other_database_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "stamps.sqlite"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE stamps (name)")
        other.execute("CREATE TABLE alembic_version (version_num)")
        other.commit()
    before = path.read_bytes()
    assert "is not a logbook" in refusal(path)
    assert path.read_bytes() == before


def test_empty_file_becomes_a_logbook(tmp_path: Path) -> None:
    path = tmp_path / "new.sqlite"
    path.touch()
    with open_logbook(path) as opened:
        assert opened.pieces() == []


def test_a_link_finds_the_photographs_wherever_they_lie(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    path, link = tmp_path / "logbook.sqlite", tmp_path / "elsewhere" / "linked.sqlite"
    logbook_with_a_photograph(path)
    link.symlink_to(path)
    for given in (path, link):
        with open_logbook(given) as opened:
            (photograph,) = opened.history("frame").photographs
            assert opened.photo_bytes(photograph.sha256) == b"picture"


def test_photographs_beside_a_link_and_beside_the_logbook_are_both_found(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    path, link = tmp_path / "logbook.sqlite", tmp_path / "elsewhere" / "linked.sqlite"
    logbook_with_a_photograph(path)
    link.symlink_to(path)
    # As an earlier tonematch left it, which kept photographs beside the link.
    link.with_name("linked photographs").mkdir()
    (kept,) = (folder for folder in (tmp_path / "logbook photographs").iterdir())
    shutil.move(kept, link.with_name("linked photographs") / kept.name)
    with open_logbook(link) as opened:
        opened.keep_photo(b"another", "b.jpg", "frame")
        found = [opened.photo_bytes(p.sha256) for p in opened.history("frame").photographs]
    assert found == [b"picture", b"another"]


@pytest.mark.parametrize(
    "change",
    [
        "DROP TABLE pieces",
        "ALTER TABLE pieces DROP COLUMN wish",
        "ALTER TABLE trials DROP COLUMN note",
        "DROP TABLE alembic_version",
        "UPDATE alembic_version SET version_num = '0007'",
    ],
)
def test_a_missing_table_or_column_is_damage(tmp_path: Path, trial: Trial, change: str) -> None:
    path = tmp_path / "logbook.sqlite"
    open_logbook(path).close()
    with closing(sqlite3.connect(path)) as other:
        other.execute(change)
        other.commit()

    def open_and_write() -> None:
        with open_logbook(path) as opened:
            opened.add_trial(trial)

    with pytest.raises(LogbookError, match=r"is damaged: put back the newest copy [^.]*\.$"):
        open_and_write()


def test_drafts_of_a_killed_program_are_swept_after_a_day(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    logbook_with_a_photograph(path)
    folder = tmp_path / "logbook photographs" / sha256(b"another").hexdigest()[:2]
    drafts = [folder / f".tonematch-draft-{n}" for n in "12"]
    folder.mkdir(exist_ok=True)
    orphan = folder / "abc.jpg"
    for left in (*drafts, orphan):
        left.write_bytes(b"half")
    for old in (drafts[0], orphan):
        os.utime(old, (0, 0))
    with open_logbook(path) as opened:
        opened.keep_photo(b"another", "b.jpg", "frame")
    assert [left.exists() for left in (*drafts, orphan)] == [False, True, True]


def test_path_below_a_file_cannot_be_opened(tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("Dear owner", encoding="utf-8")
    assert "cannot be opened" in refusal(tmp_path / "letter" / "logbook.sqlite")


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere"
)
def test_read_only_file_and_folder(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    open_logbook(path).close()
    path.chmod(0o444)
    with open_logbook(path) as opened:
        assert opened.pieces() == []
        with pytest.raises(LogbookError, match="cannot be written"):
            opened.add_piece(Piece("frame"))
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o555)
    assert "written" in refusal(folder / "logbook.sqlite")


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder that nobody can write")
def test_folder_that_nobody_can_write() -> None:
    assert "choose another path" in refusal(Path("/proc/self/logbook.sqlite"))


def test_logbook_of_a_newer_version_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    open_logbook(path).close()
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE alembic_version SET version_num = '9999'")
        other.commit()
    before = path.read_bytes()
    assert "newer tonematch" in refusal(path)
    assert path.read_bytes() == before


def test_damaged_logbook_is_told(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    open_logbook(path).close()
    data = bytearray(path.read_bytes())
    data[4096:] = b"\xaa" * (len(data) - 4096)
    path.write_bytes(data)
    assert "is damaged" in refusal(path)
    path.write_bytes(data[:5000])
    assert "is damaged" in refusal(path)


def test_a_logbook_that_is_copied_today_is_not_read_whole_again(tmp_path: Path) -> None:
    """What was damaged since is told by what meets it, and that copy is there."""
    path = tmp_path / "logbook.sqlite"
    with open_logbook(path) as opened:
        opened.add_piece(Piece("frame"))
        opened.add_piece(Piece("mirror"))
        with opened.reading() as session:
            (page,) = session.scalars(
                text("SELECT rootpage FROM sqlite_master WHERE name = 'pieces'")
            )
            size = session.scalars(text("PRAGMA page_size")).one()
    data = bytearray(path.read_bytes())
    data[(page - 1) * size : page * size] = b"\xaa" * size
    path.write_bytes(data)
    with open_logbook(path) as opened:
        assert opened.trials() == []
        with pytest.raises(LogbookError, match="is damaged: put back the newest copy"):
            opened.pieces()
        (copy,) = copies_in(usual_copies(path))
    with open_logbook(copy) as kept:
        assert kept.pieces() == [Piece("frame")]
    shutil.rmtree(usual_copies(path))
    assert "is damaged" in refusal(path)


def test_locked_logbook_is_told(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    open_logbook(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(LogbookError, match="in use by another program"):
            open_logbook(path, wait_seconds=0.1)


def test_copy_is_a_logbook_with_the_same_rows(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with open_logbook(path) as opened:
        opened.add_piece(Piece("frame"))
    with open_logbook(keep_copy(path, tmp_path / "copies")) as copy:
        assert copy.pieces() == [Piece("frame")]


def folder_with_another_step(folder: Path, body: str) -> Path:
    """The migrations of the package and one more."""
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    step = (
        "import sqlalchemy as sa\nfrom alembic import op\n\n"
        'revision = "next"\n'
        f'down_revision = "{ScriptDirectory(str(MIGRATIONS)).get_current_head()}"\n\n\n'
        f"def upgrade() -> None:\n{body}"
    )
    (folder / "versions" / "next.py").write_text(step, encoding="utf-8")
    return folder


def logbook_with_a_photograph(path: Path) -> None:
    with open_logbook(path) as opened:
        opened.add_piece(Piece("frame"))
        opened.keep_photo(b"picture", "a.jpg", "frame")


def test_logbook_of_the_first_version_keeps_its_pieces(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with open_engine(FilePlace(path), 5.0, until="0001").begin() as connection:
        connection.exec_driver_sql(
            "INSERT INTO pieces (name, technique, finish, bole, leaf, hangs_in, wish, tolerance, "
            "notes, invented, made_at) VALUES ('frame', 'water', 'matte', 'red', '', '', '', 1.5, "
            "'', 0, 'once')"
        )
    with open_logbook(path) as opened:
        assert opened.pieces() == [Piece("frame", "water", "matte", "red", tolerance=1.5)]


COPYING_STEP = (
    '    with op.batch_alter_table("pieces", recreate="always") as pieces:\n'
    '        pieces.add_column(sa.Column("owner", sa.String()))\n'
)


def test_next_step_keeps_a_copy_and_every_row(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    logbook_with_a_photograph(path)
    folder = folder_with_another_step(tmp_path / "migrations", COPYING_STEP)
    engine = open_engine(FilePlace(path), 5.0, folder)
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT name, owner FROM pieces").all() == [
            ("frame", None)
        ]
        assert connection.exec_driver_sql("SELECT count(*) FROM photographs").scalar() == 1
    (copy,) = tmp_path.glob("logbook * until *.sqlite")
    with open_logbook(copy) as opened:
        assert opened.pieces() == [Piece("frame")]
    # Opened once more there is nothing to do.
    open_engine(FilePlace(path), 5.0, folder)
    assert len(list(tmp_path.glob("* until *"))) == 1


@pytest.mark.parametrize(
    ("fault", "error"),
    [
        ('    raise RuntimeError("power cut")\n', RuntimeError),
        ('    op.execute("DELETE FROM pieces")\n', LogbookError),
    ],
)
def test_step_that_fails_leaves_the_logbook_as_it_was(
    tmp_path: Path, fault: str, error: type[Exception]
) -> None:
    path = tmp_path / "logbook.sqlite"
    logbook_with_a_photograph(path)
    folder = folder_with_another_step(tmp_path / "migrations", COPYING_STEP + fault)
    with pytest.raises(error):
        open_engine(FilePlace(path), 5.0, folder)
    with open_logbook(path) as opened:
        assert len(opened.history("frame").photographs) == 1


@pytest.mark.proof
def test_program_killed_in_the_middle_leaves_the_earlier_rows(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    with open_logbook(path) as opened:
        opened.add_piece(Piece("frame"))
    script = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from sqlalchemy import text\n"
        "from tonematch.logbook.store import open_logbook\n"
        "book = open_logbook(Path(sys.argv[1]))\n"
        "with book.writing() as session:\n"
        "    session.execute(text('PRAGMA cache_size = 1'))\n"  # spill into the file at once
        "    for n in range(500):\n"
        '        session.execute(text("INSERT INTO layers (name, kind, entry, made_at) VALUES "\n'
        "            \"('\" + str(n) + 'x' * 500 + \"', 'seal', '{}', 'now')\"))\n"
        "    session.execute(text(\"UPDATE pieces SET name = 'half'\"))\n"
        "    os._exit(9)\n"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", script, str(path)], cwd=root, check=False)
    assert done.returncode == 9
    assert path.with_name(path.name + "-journal").exists()
    with open_logbook(path) as opened:
        assert opened.pieces() == [Piece("frame")]
        assert opened.own_layers() == []
