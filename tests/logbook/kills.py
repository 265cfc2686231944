"""A command in a process of its own, ended by SIGKILL at a random moment of its work.

What the pages alone write is called here as they call it, under the word `page`.
"""

import itertools
import multiprocessing
import os
import random
import time
from collections.abc import Callable
from dataclasses import replace

import tonematch.logbook.archive.checking
import tonematch.logbook.archive.words
import tonematch.logbook.store  # noqa: F401 - imported once, before the processes part
from tests.logbook.laying import AIR, FORETOLD
from tonematch.cli import main
from tonematch.logbook.core import Draft, Judgement
from tonematch.logbook.store import Logbook, open_logbook

MIRROR, PICTURES = "=mirror", {f"photograph {n}": (bytes([n]) * 99_999, "a.jpg") for n in (1, 2)}
DRAFT, SMALL = Draft({"answer note": "dull"}, PICTURES), b"small" * 9_999
_SERVER = multiprocessing.get_context("forkserver")
_SERVER.set_forkserver_preload([__name__])


def run_alone(*arguments: object) -> float:
    """Run a command to its end in a process of its own; gives how many seconds it took."""
    start = time.perf_counter()
    process = _process(arguments)
    process.start()
    process.join(60)
    assert process.exitcode == 0, arguments
    return time.perf_counter() - start


def run_and_kill(draw: random.Random, seconds: float, *arguments: object) -> None:
    """Run a command, and kill its process within so many seconds; the moment is drawn."""
    process = _process(arguments)
    process.start()
    process.join(draw.uniform(0.0, seconds))
    process.kill()
    process.join()


def _process(arguments: tuple[object, ...]) -> multiprocessing.context.ForkServerProcess:
    words = [str(one) for one in arguments]
    return _SERVER.Process(target=_run, args=(words, os.environ["XDG_DATA_HOME"]))


def _run(arguments: list[str], data_home: str) -> None:
    os.environ["XDG_DATA_HOME"] = data_home  # of this test, and not of the server's first
    quiet = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(quiet, stream)
    if arguments[0] == "page":
        with open_logbook(arguments[-1]) as book:
            PAGES[arguments[1]](book)
    else:
        main(arguments)


def _compare(book: Logbook) -> None:
    kept = book.last_comparison("frame")
    assert kept is not None
    book.keep_comparison(MIRROR, kept.comparison)


def _lay(book: Logbook) -> None:
    kept, laid = book.last_comparison(MIRROR), book.layer_in_progress("frame")
    assert kept is not None
    assert laid is not None
    book.begin_layer(kept.id, laid.application, FORETOLD, 1.0, ["Mind."], AIR)


def _log(book: Logbook) -> None:
    laid = book.layer_in_progress("frame")
    assert laid is not None
    book.log_layer(laid.id, laid.before, list(PICTURES.values()), note="dull")


def _save(book: Logbook) -> None:
    """Two trials and a photograph, again and again, each told once it is kept."""
    (trial,) = book.trials("frame")
    with book.photographs.with_name("told").open("ab", buffering=0) as told:
        for note in map(str, itertools.count(time.time_ns())):
            book.add_trials(replace(trial, piece=piece, note=note) for piece in ("left", "right"))
            sha256 = book.keep_photo(note.encode(), "a.jpg", "left")
            told.write(f"{note} {sha256}\n".encode())


def _judge(book: Logbook) -> None:
    book.keep_judgement(Judgement("lighter", ("lighter",), "near", "near"))


PAGES: dict[str, Callable[[Logbook], object]] = {
    "compare": _compare,
    "lay": _lay,
    "log": _log,
    "judge": _judge,
    "save": _save,
    "draft": lambda book: book.keep_draft("frame", DRAFT),
    "small": lambda book: book.small_picture("0" * 64, "a corner", lambda: SMALL),
}
