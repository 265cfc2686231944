"""A command in a process of its own, ended by SIGKILL at a random moment of its work."""

import multiprocessing
import os
import random
import time

import tonematch.logbook.archive.checking
import tonematch.logbook.archive.words
import tonematch.logbook.store  # noqa: F401 - imported once, before the processes part
from tonematch.cli import main

_SERVER = multiprocessing.get_context("forkserver")
_SERVER.set_forkserver_preload([__name__])


def run_alone(*arguments: object) -> float:
    """Run a command to its end in a process of its own; gives how many seconds it took."""
    start = time.perf_counter()
    process = _SERVER.Process(target=_run, args=([str(one) for one in arguments],))
    process.start()
    process.join(60)
    assert process.exitcode == 0, arguments
    return time.perf_counter() - start


def run_and_kill(draw: random.Random, seconds: float, *arguments: object) -> None:
    """Run a command, and kill its process within so many seconds; the moment is drawn."""
    process = _SERVER.Process(target=_run, args=([str(one) for one in arguments],))
    process.start()
    process.join(draw.uniform(0.0, seconds))
    process.kill()
    process.join()


def _run(arguments: list[str]) -> None:
    quiet = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(quiet, stream)
    main(arguments)
