"""That something is going on, while a command makes a person wait."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event, Thread


@contextmanager
def working(on: str) -> Iterator[None]:
    """Count the seconds of what takes longer than one, on a line of standard error that goes again.

    Only where standard error is a terminal: a program that reads it finds refusals there alone. It
    begins with what is being done, such as "Learning from 60 trials".
    """
    if not sys.stderr.isatty():
        yield
        return
    done = Event()

    def count() -> None:
        seconds = 0
        while not done.wait(1.0):
            seconds += 1
            print(f"\r{on}: {seconds} s", end="", file=sys.stderr, flush=True)

    counting = Thread(target=count, daemon=True)
    counting.start()
    try:
        yield
    finally:
        done.set()
        counting.join()
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)
