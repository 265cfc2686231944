"""A logbook on a server: two benches at one, a server that is gone, and what is said of it."""

import itertools
import multiprocessing
import random
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from zipfile import ZipFile

import pytest

from tests.cli.commands import Run
from tests.logbook.kills import run_alone, run_and_kill
from tests.logbook.server import PASSWORD, Server, a_logbook, a_server
from tests.logbook.test_opening import folder_with_another_step
from tests.logbook.whole_logbook import make_whole
from tests.screens.app_pages import open_app, open_piece, said, visit
from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece
from tonematch.logbook.database.opening import open_engine, place_of
from tonematch.logbook.store import open_logbook
from tonematch.logbook.stores.likeness import Asked
from tonematch.measure.core import Calibration, Comparison
from tonematch.toning.core import Proposal, Trial

pytestmark = pytest.mark.proof


@pytest.fixture
def address(server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A logbook on a server, which is the usual one."""
    with a_logbook(server, "benches", tmp_path) as where:
        monkeypatch.setenv("TONEMATCH_LOGBOOK", where)
        yield where


def _save(address: str, trial: Trial, bench: int, count: int) -> None:
    with open_logbook(address, wait_seconds=60) as book:
        for number in range(count):
            book.add_trial(replace(trial, piece=f"piece {number % 3}", note=str(bench + number)))
            if number % 100 == 0:
                book.keep_photo(b"%d" % number, "both.jpg", f"piece {number % 3}")


def test_two_benches_write_two_thousand_trials_and_none_is_lost(address: str, trial: Trial) -> None:
    spawn = multiprocessing.get_context("spawn")
    benches = [
        spawn.Process(target=_save, args=(address, trial, 1000 * one, 1000)) for one in (0, 1)
    ]
    with open_logbook(address) as book:
        for bench in benches:
            bench.start()
        seen = 0
        while any(bench.is_alive() for bench in benches):
            now = book.find_trials(Asked(count=1)).of
            assert now >= seen  # what was seen once is seen by every later look
            seen = now
            time.sleep(0.2)
        assert seen > 0
        assert [bench.exitcode for bench in benches] == [0, 0]
        assert sorted(int(t.note) for t in book.trials()) == list(range(2000))
        assert len(book.pieces()) == 3
        assert len({p.sha256 for p in book.history("piece 0").photographs}) == 4


def test_what_one_bench_does_another_sees_and_undoes(
    address: str, run: Run, trial_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TONEMATCH_BENCH", "bench by the window")
    assert run("trials", "import", trial_file).status == 0
    assert run("trials", "leave-out", 1, "--reason", "wrong pot").status == 0
    monkeypatch.setenv("TONEMATCH_BENCH", "bench by the door")
    assert "left out (wrong pot)" in run("logbook", "undo", "--list").out
    assert "at bench by the window" in run("logbook", "undo").out
    with open_logbook(address) as book:
        assert len(book.trials()) == len(book.kept_trials())


def test_a_logbook_goes_from_a_file_to_a_server_and_back_whole(
    address: str,
    run: Run,
    tmp_path: Path,
    trial: Trial,
    comparison: Comparison,
    calibration: Calibration,
    proposal: Proposal,
) -> None:
    book, first, second = (tmp_path / name for name in ("book.sqlite", "first.zip", "second.zip"))
    make_whole(book, trial, comparison, calibration, proposal)
    assert run("logbook", "export", first, "--logbook", book).status == 0
    assert run("logbook", "import", first).status == 0
    assert run("logbook", "export", second).status == 0
    assert second.read_bytes() == first.read_bytes()
    said = run("logbook", "check")
    assert (said.status, "Nothing is wrong" in said.out) == (0, True)
    # Numbers go on after those that were brought in.
    assert run("pieces", "add", "console table").status == 0
    assert run("pieces", "remove", "console table").status == 0
    assert run("logbook", "empty", "--yes").status == 0
    (before,) = tmp_path.glob("before emptying *.zip")
    assert b"console table" in ZipFile(before).read("json/pieces.json")
    with open_logbook(address) as opened:
        assert [piece.name for piece in opened.pieces()] == ["=mirror", "frame", "console"]


@pytest.mark.usefixtures("address")
def test_copies_are_the_servers_own(run: Run) -> None:
    for command in (("backup",), ("restore",)):
        said = run("logbook", *command)
        assert said.status == 2
        assert "lies on a server, whose own dumps are its copies" in said.err
        assert "tonematch logbook export" in said.err
    assert "whose own dumps are its copies" in run("logbook", "check").out


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("/benches", "/elsewhere"), 'database "elsewhere" does not exist'),
        ((PASSWORD, f"{PASSWORD}x"), "password authentication failed"),
        (("@127.0.0.1", "@server.invalid"), "see whether its server runs"),
        (("folder=", "folder=/nowhere"), "there is no folder /nowhere"),
        (("?folder=", "?room="), "write its address as postgresql+psycopg://NAME@SERVER/"),
        (
            ("postgresql+psycopg:", "mysql:"),
            "write its address as postgresql+psycopg://NAME@SERVER/",
        ),
        (("@127.0.0.1:", "@127.0.0.1:x"), "write it as postgresql+psycopg://NAME@SERVER/"),
    ],
)
def test_a_wrong_address_is_one_sentence_without_the_password(
    address: str, run: Run, change: tuple[str, str], words: str
) -> None:
    said = run("pieces", "list", "--logbook", address.replace(*change))
    assert said.status == 2
    assert words in said.err
    assert PASSWORD not in said.err
    assert said.err.count("\n") == 1


def test_a_database_of_something_else_is_left_as_it_is(
    server: Server, tmp_path: Path, run: Run
) -> None:
    server.command("CREATE TABLE stamps (name text)")
    said = run("pieces", "add", "frame", "--logbook", server.address("postgres", tmp_path))
    assert "is not a logbook of tonematch and was left as it is" in said.err


def test_a_server_gone_in_the_middle_of_saves_lost_nothing_that_was_said_to_be_kept(
    tmp_path: Path, trial: Trial
) -> None:
    """As when its power fails, at moments that are drawn."""
    draw = random.Random(9)
    with a_server() as server, a_logbook(server, "benches", tmp_path) as address:
        kept: list[int] = []
        numbers = itertools.count(1)
        for _ in range(10):
            with open_logbook(address) as book:
                failing = threading.Timer(draw.uniform(0, 0.3), server.stop, ["immediate"])
                failing.start()
                with pytest.raises(LogbookError) as told:
                    for number in numbers:
                        book.add_trials([replace(trial, note=f"{sign}{number}") for sign in "+-"])
                        kept.append(number)
                failing.join()
            words = str(told.value)
            assert "was lost on the way" in words or "cannot be reached" in words
            assert (words.count("\n"), PASSWORD in words) == (0, False)
            server.start()
        with open_logbook(address) as book:
            found = {int(t.note) for t in book.trials()}
            assert set(kept) <= found
            assert found == {-number for number in found}  # both of one save, or neither
            book.add_piece(Piece("after all that"))


def test_a_bench_killed_as_it_saves_lost_nothing_that_was_said_to_be_kept(
    address: str, tmp_path: Path, trial: Trial, run: Run
) -> None:
    """And another bench writes at once, whatever the killed one held."""
    with open_logbook(address) as book:
        book.add_trial(trial)
        for piece in ("left", "right"):
            book.add_piece(Piece(piece))
        (tmp_path / "told").touch()  # a bench killed before its first save has told nothing
        opening = run_alone("page", "judge", address)  # slow on a busy machine
        for moment in range(24):
            run_and_kill(random.Random(moment), opening + 1.0, "page", "save", address)
            book.add_piece(Piece(f"after {moment}"))
            told = dict(line.split() for line in (tmp_path / "told").read_text().splitlines())
            left, right = ([one.note for one in book.trials(piece)] for piece in ("left", "right"))
            kept = {photo.sha256: photo.path for photo in book.history("left").photographs}
            assert (left, set(told) - set(left)) == (right, set())
            assert set(told.values()) <= kept.keys()
            assert all(sha256(kept[one].read_bytes()).hexdigest() == one for one in kept)
    assert told
    checked = run("logbook", "check")
    assert "cannot be what was written" not in checked.out, checked


def test_a_server_is_brought_up_to_date_as_a_whole_or_not_at_all(
    address: str, tmp_path: Path
) -> None:
    column = '    op.add_column("pieces", sa.Column("owner", sa.String()))\n'
    broken = folder_with_another_step(tmp_path / "broken", f"{column}    raise RuntimeError\n")
    sound = folder_with_another_step(tmp_path / "sound", column)
    place = place_of(address)
    with pytest.raises(RuntimeError):
        open_engine(place, 5.0, broken)
    with open_logbook(address) as opened:
        opened.add_piece(Piece("frame"))
    engine = open_engine(place, 5.0, sound)
    with engine.connect() as connection:
        query = "SELECT name, owner FROM pieces"
        assert connection.exec_driver_sql(query).all() == [("frame", None)]
    engine.dispose()
    with pytest.raises(LogbookError, match="made by a newer tonematch"):
        open_logbook(address)


def test_the_app_shows_a_logbook_on_a_server(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", address])
    with open_logbook(address) as opened:
        opened.add_piece(Piece("hall mirror"))
    app = open_app()
    app = open_piece(app, "hall mirror")
    shown = said(visit(app, "Logbook")) + said(visit(app, "Help"))
    assert "The logbook lies on a server, whose own dumps are its copies." in shown
    assert f"Your logbook lies in {address.replace(f':{PASSWORD}', '').partition('?')[0]}." in shown
    assert PASSWORD not in shown
    assert not app.error
