"""What stands in a cell of the logbook, and the sentence for one that cannot be what was written.

A disk loses a bit in a year; SQLite sees that in its own pages, not in what a cell says. Every row
is looked at as it is loaded, and what is made of rows is made by functions marked `decoding`.
"""

import json
import math
from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar, get_args

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import JSON, Column, event, inspect

from tonematch.errors import LogbookError
from tonematch.logbook.tables import Base

_Row = TypeVar("_Row", bound=Base)
_More = ParamSpec("_More")
_Value = TypeVar("_Value")

_UNREADABLE = object()  # stands for JSON that cannot be read, until its row is known


def json_of(text: str) -> Any:
    """JSON of a cell; what cannot be read is told when its row is loaded."""
    try:
        text.encode()
        return json.loads(text)
    except ValueError:
        return _UNREADABLE


def text_of(data: bytes) -> str:
    """Text of a cell; bytes that are no UTF-8 become surrogates, which no text has."""
    return data.decode("utf-8", "surrogateescape")


@event.listens_for(Base, "load", propagate=True)
def _refuse_damaged_cells(row: Base, _context: object) -> None:
    for name, column in inspect(type(row)).columns.items():
        if not _fits(row.__dict__.get(name), column):
            raise _damaged(row, name)


def _fits(value: object, column: Column[Any]) -> bool:
    if value is None:
        return bool(column.nullable)
    if isinstance(column.type, JSON):
        return value is not _UNREADABLE
    kind = column.type.python_type
    if kind is float:
        return isinstance(value, int | float) and math.isfinite(value)
    if isinstance(value, str) and any("\ud800" <= character <= "\udfff" for character in value):
        return False
    return isinstance(value, kind)


def decoding(
    of_row: Callable[Concatenate[_Row, _More], _Value],
) -> Callable[Concatenate[_Row, _More], _Value]:
    """Mark a function that makes something of a row: where it cannot, the row is damaged."""

    @wraps(of_row)
    def decoded(row: _Row, /, *args: _More.args, **kwargs: _More.kwargs) -> _Value:
        try:
            return of_row(row, *args, **kwargs)
        except (ValueError, TypeError, LookupError, AttributeError) as error:
            raise _damaged(row) from error

    return decoded


def _damaged(row: Base, column: str = "") -> LogbookError:
    place = f"{row.__tablename__}, row {row.__dict__.get('id', '?')}"
    return LogbookError(
        f"The logbook is damaged in table {place}{column and f', column {column}'}: put back the "
        "newest copy that you have of it."
    )


def numbers(value: object, *shape: int) -> NDArray[np.float64]:
    """An array of finite numbers from JSON, of that shape where one is given.

    Raises
    ------
    ValueError
    TypeError
    """
    array = np.array(value, dtype=np.float64)
    if not np.isfinite(array).all() or (shape and array.shape != shape):
        raise ValueError(f"{array.shape} is not {shape}, or not finite")
    return array


def word_of(text: str, known: object) -> Any:
    """A word that is one of those of a Literal.

    Raises
    ------
    ValueError
    """
    if text not in get_args(known):
        raise ValueError(f"{text!r} is not one of {known}")
    return text
