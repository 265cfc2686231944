"""Trials as a table of comma-separated values (RFC 4180, UTF-8), in and out.

The header row is ``piece,date,technique,finish,step,layer,kind,strength,coats,before_L,before_a,
before_b,after_L,after_a,after_b,note``; only ``layer``, ``strength`` and the six CIELAB values
(D50, 2 degree) are required. Columns ``zone``, ``before_lustre`` and ``after_lustre`` (stops, see
`measure/appearance`), ``temperature`` (degrees Celsius), ``humidity`` (relative, %) and ``bench``
may follow, each written where a trial has one. A file is taken whole or not at all.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, TextIO, cast

import numpy as np

from tonematch.errors import ShelfError, TrialError
from tonematch.logbook.csv_rows import Row, name_of, rows_of, table_of, table_text
from tonematch.logbook.trial_check import Fault, ask_for, find_fault
from tonematch.toning.core import KINDS, Application, Finish, Kind, Layer, Technique, Trial
from tonematch.toning.layers.shelf import find_layer

BEFORE = ("before_L", "before_a", "before_b")
AFTER = ("after_L", "after_a", "after_b")
COLUMNS = (
    *("piece", "date", "technique", "finish", "step", "layer", "kind", "strength", "coats"),
    *BEFORE,
    *AFTER,
    "note",
)
NUMBERS = ("before_lustre", "after_lustre", "temperature", "humidity")
MORE = ("zone", *NUMBERS, "bench")
REQUIRED = ("layer", "strength", *BEFORE, *AFTER)

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_WHOLE = re.compile(r"[+-]?[0-9]+")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")


class _RowError(Exception):
    """A row has a fault; the reader collects them into one TrialError."""

    def __init__(self, column: str, words: str) -> None:
        super().__init__(words)
        self.fault = Fault(column, words)


def read_trials(source: Path | TextIO, shelf: Mapping[str, Layer]) -> list[Trial]:
    """Read a table of trials (UTF-8), all of it or nothing, in the order of the file.

    A layer that is not on the shelf needs a `kind` in its row. Raises TrialError, one sentence with
    the line, the column, what is wrong and what to do: the first faulty row is named and the others
    are counted.
    """
    name = name_of(source)
    rows = rows_of(name, table_text(name, source))
    header = next(rows, None)
    if header is None:
        raise TrialError(f"{name} is empty: give a table of trials whose first row names columns.")
    columns = _columns_of(name, header)
    trials, faults = _trials_of(rows, columns, shelf)
    if faults:
        raise TrialError(_sentence(name, faults))
    if not trials:
        raise TrialError(f"{name} has a header row but no trials: write one row for each trial.")
    return trials


def trials_table(trials: Iterable[Trial]) -> str:
    """The table that `read_trials` reads, every number to its last digit.

    The columns of `MORE` are left out where no trial has any.
    """
    known = list(trials)
    more = [name for name in MORE if any(_more(trial, name) for trial in known)]
    rows = ((*_fields_of(trial), *(_more(trial, name) for name in more)) for trial in known)
    return table_of(((*COLUMNS, *more), *rows))


def _more(trial: Trial, name: str) -> str:
    value = getattr(trial, name)
    return repr(float(value)) if isinstance(value, float | int) else value or ""


def _fields_of(trial: Trial) -> list[str]:
    application = trial.application
    return [
        trial.piece,
        trial.date,
        application.technique,
        application.finish,
        str(trial.step),
        application.layer,
        application.kind,
        repr(float(application.strength)),
        str(application.coats),
        *(repr(float(value)) for value in application.before),
        *(repr(float(value)) for value in trial.after),
        trial.note,
    ]


def _columns_of(name: str, header: Row) -> list[str]:
    """Column names, checked."""
    columns = header.fields
    place = f"{name}, line {header.line}"
    for mark, called in ((";", "semicolons"), ("\t", "tabs")):
        if len(columns) == 1 and mark in columns[0]:
            raise TrialError(
                f"{place}: the columns are separated by {called}; save the table with commas "
                "between columns and points in the numbers."
            )
    doubled = next((column for column in columns if columns.count(column) > 1), None)
    if doubled is not None:
        raise TrialError(f"{place}: column {doubled!r} stands there twice; keep one of them.")
    # Missing ones first: a misspelt required column is then named with its right spelling.
    missing = [column for column in REQUIRED if column not in columns]
    if missing:
        lacks = f"column {missing[0]} is" if len(missing) == 1 else f"{', '.join(missing)} are"
        raise TrialError(f"{place}: {lacks} missing; the first row must name the columns.")
    known = (*COLUMNS, *MORE)
    unknown = next((column for column in columns if column not in known), None)
    if unknown is not None:
        near = get_close_matches(unknown, known, n=1)
        hint = f"if {near[0]} is meant, write that, else" if near else "rename it or"
        raise TrialError(f"{place}: column {unknown!r} is not one of a trial's; {hint} remove it.")
    return columns


def _trials_of(
    rows: Iterable[Row], columns: list[str], shelf: Mapping[str, Layer]
) -> tuple[list[Trial], list[tuple[int, Fault]]]:
    trials: list[Trial] = []
    faults: list[tuple[int, Fault]] = []
    met: dict[str, tuple[str, Kind]] = {}

    @cache
    def layer_of(name: str, kind: str) -> tuple[str, Kind]:
        return _layer_of(name, kind, shelf)

    for row in rows:
        try:
            trial = _trial_of(_by_column(row, columns), layer_of)
            trial = _same_layer_as_above(trial, met)
        except _RowError as refused:
            faults.append((row.line, refused.fault))
            continue
        fault = find_fault(trial)
        if fault is None:
            trials.append(trial)
        else:
            faults.append((row.line, fault))
    return trials, faults


def _by_column(row: Row, columns: list[str]) -> dict[str, str]:
    """The texts of a row; one that may have slid along by a decimal comma is refused.

    RFC 4180, section 2.4: every line has the same number of fields. Blank ones count, too: a
    decimal comma makes one field more of a number, and takes the place of one that was left off.
    """
    if len(row.fields) != len(columns):
        raise _RowError(
            columns[-1],
            f"the row has {len(row.fields)} fields and the header {len(columns)}; write numbers "
            "with a decimal point instead of a comma, set text that holds commas in quotation "
            "marks, and keep the commas of columns that are left empty",
        )
    texts = dict.fromkeys((*COLUMNS, *MORE), "") | dict(zip(columns, row.fields, strict=True))
    # Where the note was left off, a decimal comma pushes the last value into its place.
    if _NUMBER.fullmatch(texts["note"]) and any(_WHOLE.fullmatch(texts[c]) for c in REQUIRED[2:]):
        raise _RowError(
            "note",
            f"{texts['note']!r} is a number alone; write numbers with a decimal point instead of a "
            "comma, and a word beside a number that is a note",
        )
    return texts


def _trial_of(texts: Mapping[str, str], layer_of: Callable[[str, str], tuple[str, Kind]]) -> Trial:
    layer, kind = layer_of(texts["layer"], texts["kind"].lower())
    application = Application(
        before=np.array([_number(texts, column) for column in BEFORE]),
        layer=layer,
        kind=kind,
        strength=_number(texts, "strength"),
        coats=_count(texts, "coats"),
        technique=cast("Technique", texts["technique"].lower() or "unknown"),
        finish=cast("Finish", texts["finish"].lower() or "unknown"),
    )
    numbers: dict[str, Any] = {
        name: _number(texts, name) if texts[name] else None for name in NUMBERS
    }
    return Trial(
        application=application,
        after=np.array([_number(texts, column) for column in AFTER]),
        piece=texts["piece"],
        date=texts["date"],
        step=_count(texts, "step"),
        note=texts["note"],
        zone=texts["zone"],
        bench=texts["bench"],
        **numbers,
    )


def _layer_of(name: str, kind: str, shelf: Mapping[str, Layer]) -> tuple[str, Kind]:
    if not name:
        raise _RowError("layer", "it is empty; write which layer was laid")
    if kind and kind not in KINDS:
        raise _RowError("kind", f"{kind!r} is no kind of layer; {ask_for(KINDS)}")
    try:
        known = find_layer(shelf, name)
    except ShelfError as error:
        if kind:
            return name, kind
        raise _RowError(
            "layer",
            f"{str(error).rstrip('.')}, or say in column kind what it is: {ask_for(KINDS)}",
        ) from error
    if kind and kind != known.kind:
        raise _RowError(
            "kind",
            f"{known.name!r} is a {known.kind} on the shelf and a {kind} here; write "
            f"{known.kind}, leave the kind empty, or give the layer another name",
        )
    return known.name, known.kind


def _same_layer_as_above(trial: Trial, met: dict[str, tuple[str, Kind]]) -> Trial:
    """One spelling and one kind for a layer throughout the file."""
    application = trial.application
    name, kind = met.setdefault(application.layer.casefold(), (application.layer, application.kind))
    if kind != application.kind:
        raise _RowError(
            "kind",
            f"{name!r} is a {kind} further up and a {application.kind} here; write the same kind "
            "in every row",
        )
    if name == application.layer:
        return trial
    return replace(trial, application=replace(application, layer=name))


def _number(texts: Mapping[str, str], column: str) -> float:
    # A spreadsheet may write the true minus sign (U+2212).
    text = texts[column].replace("\u2212", "-")
    if _NUMBER.fullmatch(text):
        return float(text)
    if not text:
        raise _RowError(column, "it is empty; write a number")
    if _DECIMAL_COMMA.fullmatch(text):
        raise _RowError(
            column, f"{text!r} has a decimal comma; write {text.replace(',', '.')} with a point"
        )
    raise _RowError(column, f"{text!r} is not a number; write one such as 45.2")


def _count(texts: Mapping[str, str], column: str) -> int:
    if not texts[column]:
        return 1
    number = _number(texts, column)
    if not number.is_integer() or number < 1:
        raise _RowError(column, f"{texts[column]!r} is not a positive whole number; count anew")
    return int(number)


def _sentence(name: str, faults: list[tuple[int, Fault]]) -> str:
    line, fault = faults[0]
    others = len(faults) - 1
    also = f"{others} more {'row has' if others == 1 else 'rows have'} faults; " if others else ""
    return (
        f"{name}, line {line}, column {fault.column}: {fault.words} ({also}nothing was imported)."
    )
