"""What a command prints: JSON or lines, and that it is at work; it never fails by printing."""

import io
import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from threading import Event, Thread
from typing import TYPE_CHECKING, Any, TextIO, cast

import typer

from tonematch.errors import HOLDS_LINEAR, MARK_CARD, MAY_SHRINK

if TYPE_CHECKING:
    from tonematch.logbook.store import Logbook


def print_json(value: object) -> None:
    """One JSON object."""
    from tonematch.cli.as_json import in_json

    typer.echo(by_option(json.dumps(in_json(value), ensure_ascii=False, allow_nan=False)))


def print_warnings(warnings: Sequence[str]) -> None:
    """One line a warning."""
    for warning in warnings:
        typer.echo(f"Note: {by_option(warning)}")


def by_option(words: str) -> str:
    """Words with the option beside what they ask a person to say."""
    words = words.replace(MAY_SHRINK, f"{MAY_SHRINK} (--may-shrink)")
    words = words.replace(MARK_CARD, f"{MARK_CARD} (--card x,y,w,h)")
    return words.replace(
        HOLDS_LINEAR, f"{HOLDS_LINEAR} (--encoding linear, of 'read' and 'compare')"
    )


def print_if_new(book: "Logbook") -> None:
    """Say that a logbook was made: its path may have been mistyped."""
    if book.is_new:
        typer.echo(f"A new logbook was made: {book.place}.")


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


class Unfailing:
    """A stream that keeps its first fault instead of raising it.

    What a command had to do may be done when it prints, and must not be told as refused.
    """

    def __init__(self, stream: TextIO) -> None:
        if isinstance(stream, io.TextIOWrapper):  # an 8-bit code page lacks most characters
            stream.reconfigure(errors="backslashreplace")
        self.stream = stream
        self.fault: OSError | None = None

    def write(self, text: str) -> int:
        """Write, or keep the fault."""
        try:
            return self.stream.write(text)
        except OSError as error:
            self.fault = self.fault or error
            return len(text)

    def flush(self) -> None:
        """Flush, or keep the fault."""
        try:
            self.stream.flush()
        except OSError as error:
            self.fault = self.fault or error

    def let_go(self) -> None:
        """Have the interpreter flush what is left into nothing when it ends."""
        if self.fault is not None:
            os.dup2(os.open(os.devnull, os.O_WRONLY), self.stream.fileno())

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


@contextmanager
def unfailing_output() -> Iterator[Unfailing]:
    """Standard output and error as streams that never raise; gives that of the output."""
    held = sys.stdout, sys.stderr
    out, err = map(Unfailing, held)
    sys.stdout, sys.stderr = cast(TextIO, out), cast(TextIO, err)
    try:
        yield out
    finally:
        sys.stdout, sys.stderr = held
        out.let_go()
        err.let_go()
