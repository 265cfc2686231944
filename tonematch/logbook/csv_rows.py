"""The rows of a table of comma-separated values (RFC 4180, UTF-8), each with its line number.

A spreadsheet runs a cell that begins as a formula does: in what is written, an apostrophe stands
before it, and is taken off when the table is read.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from tonematch.errors import TrialError
from tonematch.wholefile import read_whole

# Beginnings that some spreadsheet takes for a formula's; what is a plain number is none.
_RUN = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_NUMBER = re.compile(r"[+-]?[0-9]*\.?[0-9]+([eE][+-]?[0-9]+)?")


@dataclass(frozen=True)
class Row:
    """A row of the file with the number of its first line."""

    line: int
    fields: list[str]


def table_of(rows: Iterable[Iterable[str]]) -> str:
    """The text of a table, with no cell that a spreadsheet would run."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows(map(_harmless, row) for row in rows)
    return text.getvalue()


def _harmless(cell: str) -> str:
    return f"'{cell}" if _is_run(cell) else cell


def _restored(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and _is_run(cell[1:]) else cell


def _is_run(cell: str) -> bool:
    return bool(_RUN.match(cell)) and not _NUMBER.fullmatch(cell.lstrip("'"))


def name_of(source: Path | TextIO) -> str:
    """What to call the table in messages."""
    if isinstance(source, Path):
        return source.name
    name = getattr(source, "name", None)
    return Path(name).name if isinstance(name, str) and name else "The table of trials"


def table_text(name: str, source: Path | TextIO) -> str:
    """The whole text of a table, without a byte order mark; TrialError where it cannot be read."""
    try:
        if isinstance(source, Path):
            return read_whole(source).decode("utf-8-sig")
        return source.read().removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        raise TrialError(
            f"{name}, line {line} is not UTF-8 text: save the table again as comma-separated "
            "values, and choose UTF-8 as its encoding (character set)."
        ) from error
    except OSError as error:
        raise TrialError(
            f"{name} cannot be read ({error.strerror or error}): check the path of the table of "
            "trials."
        ) from error


def rows_of(name: str, text: str) -> Iterator[Row]:
    """Rows that hold anything, without blanks around fields, each with the line where it starts.

    Raises TrialError when a quotation mark is not closed.
    """
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    while True:
        line = reader.line_num + 1
        try:
            fields = [_restored(field.strip()) for field in next(reader)]
        except StopIteration:
            return
        except csv.Error as error:
            raise TrialError(
                f"{name}, line {line}: the row cannot be taken apart ({error}); check that every "
                "quotation mark is closed and doubled inside quoted text."
            ) from error
        if any(fields):
            yield Row(line, fields)
