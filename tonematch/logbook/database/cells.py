"""What stands in a cell of the logbook: values as words and JSON, and back.

Every value of the rooms above goes through one converter. What it writes is read by later versions
for decades: a field that is renamed above keeps its name here. A disk loses a bit in a year; SQLite
sees that in its own pages, not in what a cell says, so every row is looked at as it is loaded.
"""

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import is_dataclass, replace
from functools import wraps
from typing import Any, Concatenate, Literal, ParamSpec, TypeVar, get_args, get_origin

import numpy as np
from cattrs import Converter, override
from cattrs.errors import ForbiddenExtraKeysError
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn
from numpy.typing import NDArray
from sqlalchemy import JSON, Column, Double, String, inspect
from sqlalchemy.orm import DeclarativeBase
from sqlalchemy.types import TypeDecorator

from tonematch.errors import LogbookError
from tonematch.logbook.core import KeptAids
from tonematch.measure.calibration.aids import Aids, Encoding
from tonematch.measure.calibration.camera_profile import EARLIER
from tonematch.measure.calibration.chart import Chart
from tonematch.measure.core import AS_DECODED, Area, Calibration, CameraProfile, ToneCurve

_Row = TypeVar("_Row", bound=DeclarativeBase)
_More = ParamSpec("_More")
_Value = TypeVar("_Value")
Entry = dict[str, Any]

_UNREADABLE = object()  # stands for what cannot be read, until its row is known
_FAULTS = (ValueError, TypeError, LookupError, AttributeError, ForbiddenExtraKeysError)

CONVERTER = Converter(detailed_validation=False, forbid_extra_keys=True)


class Cell(TypeDecorator[Any]):
    """A column of values of one kind, as JSON; arrays of finite numbers may have a shape."""

    impl: Any = JSON
    cache_ok = True

    def __init__(self, kind: Any, *shape: int) -> None:
        super().__init__(none_as_null=True)
        self.kind, self.shape = kind, shape

    def process_bind_param(self, value: Any, dialect: object) -> Any:  # noqa: ARG002
        entry = CONVERTER.unstructure(value)
        json.dumps(entry, allow_nan=False)  # what is no number is refused here, on any database
        return entry

    def process_result_value(self, value: Any, dialect: object) -> Any:  # noqa: ARG002
        if value is None:
            return None
        try:
            return _array(value, *self.shape) if self.shape else self.read(value)
        except _FAULTS:
            return _UNREADABLE

    def read(self, value: Any) -> Any:
        """The value that a cell says."""
        return CONVERTER.structure(value, self.kind)

    def compare_values(self, x: Any, y: Any) -> bool:
        """Whether a value stands there already: nothing is altered inside of one."""
        return x is y


class Word(Cell):
    """A column of words out of a few, as text."""

    impl = String
    cache_ok = True

    def __init__(self, kind: Any) -> None:
        TypeDecorator.__init__(self)
        self.kind, self.shape = kind, ()


class Number(TypeDecorator[float]):
    """A column of measured values: a server would take what is no number, and no file does."""

    impl = Double
    cache_ok = True

    @property
    def python_type(self) -> type[float]:
        """By which a loaded cell is held."""
        return float

    def process_bind_param(self, value: Any, dialect: object) -> Any:  # noqa: ARG002
        if value is not None and not math.isfinite(value):
            raise ValueError(f"{value} is no number")
        return value


def json_of(text: str) -> Any:
    """JSON of a cell; what cannot be read is told when its row is loaded."""
    try:
        text.encode()
        return json.loads(text)
    except (ValueError, AttributeError):  # SQLite makes a number of a cell that could be one
        return _UNREADABLE


def text_or_surrogates(data: bytes) -> str:
    """Text of a cell; bytes that are no UTF-8 become surrogates, which no text has."""
    return data.decode("utf-8", "surrogateescape")


def refuse_damaged_cells(row: DeclarativeBase, _context: object) -> None:
    """Raise LogbookError for the first cell of a loaded row that cannot be what was written."""
    for name, column in inspect(type(row)).columns.items():
        if name in row.__dict__ and not fits(row.__dict__[name], column):
            raise _damaged(row, column.name)


def fits(value: object, column: Column[Any]) -> bool:
    """Whether a loaded value can be what was written into its column."""
    if value is None:
        return bool(column.nullable)
    if isinstance(column.type, Cell):
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
        except _FAULTS as error:
            raise _damaged(row) from error

    return decoded


def _damaged(row: DeclarativeBase, column: str = "") -> LogbookError:
    place = f"{row.__tablename__}, row {row.__dict__.get('id', '?')}"
    return LogbookError(
        f"The logbook is damaged in table {place}{column and f', column {column}'}: put back the "
        "newest copy that you have of it."
    )


def _array(value: object, *shape: int) -> NDArray[np.float64]:
    array = np.array(value, dtype=np.float64)
    if not np.isfinite(array).all() or (shape and array.shape != shape):
        raise ValueError(f"{array.shape} is not {shape}, or not finite")
    return array


def _exactly(value: Any, kind: Any) -> Any:
    """A number, a text or a truth as it was written, and nothing that could be made into one."""
    whole = kind is float and type(value) is int
    infinite = isinstance(value, float) and not math.isfinite(value)
    if (type(value) is not kind and not whole) or infinite:
        raise ValueError(f"{value!r} is not of {kind}, or not finite")
    return kind(value)


def _one_of(value: Any, words: Any) -> Any:
    if value not in get_args(words):
        raise ValueError(f"{value!r} is not one of {words}")
    return value


def _shaped(*shape: int) -> Any:
    return override(struct_hook=lambda value, _: _array(value, *shape))


def _freedom_of(value: Any, _kind: object) -> float:
    # JSON has no infinity.
    return math.inf if value is None else float(_exactly(value, float))


def _freedom_entry(value: float) -> float | None:
    return None if math.isinf(value) else float(value)


# By the name of a field, wherever it stands.
_FIELDS = {
    **dict.fromkeys(("lab", "before", "gains", "xyz"), _shaped(3)),
    **dict.fromkeys(("covariance", "balance"), _shaped(3, 3)),
    "freedom": override(struct_hook=_freedom_of, unstruct_hook=_freedom_entry),
}


def _from_entry(kind: type, *, strict: bool = True) -> Callable[[Any, Any], Any]:
    return make_dict_structure_fn(kind, CONVERTER, _cattrs_forbid_extra_keys=strict, **_FIELDS)


def _to_entry(kind: type) -> Callable[[Any], Any]:
    return make_dict_unstructure_fn(kind, CONVERTER, **_FIELDS)


def _made_of(origin: object) -> Callable[[Any], bool]:
    return lambda kind: get_origin(kind) is origin or kind is origin


def _tone_from_entry(kind: type) -> Callable[[Any, Any], ToneCurve]:
    as_written = _from_entry(kind, strict=False)

    def tone_of(entry: Entry | None, _kind: object) -> ToneCurve:
        # Earlier versions kept the whole curve as a table, or nothing where it was the file's.
        whole = {**CONVERTER.unstructure(AS_DECODED), **(entry or {})}
        tone: ToneCurve = as_written(whole, kind)
        # A curve that starts from decoded light has an empty list where its shape would be.
        return replace(tone, levels=tone.levels.reshape(-1, 3), values=tone.values.reshape(-1, 3))

    return tone_of


def _calibration_from_entry(kind: type) -> Callable[[Any, Any], Calibration]:
    # Earlier versions called `settled` what is `measured`, and had fields that are gone.
    as_written = _from_entry(kind, strict=False)

    def calibration_of(entry: Entry, _kind: object) -> Calibration:
        named = {"measured" if name == "settled" else name: entry[name] for name in entry}
        calibration: Calibration = as_written(named, kind)
        return calibration

    return calibration_of


def _profile_from_entry(kind: type) -> Callable[[Any, Any], CameraProfile]:
    as_written = _from_entry(kind, strict=False)

    def profile_of(entry: Entry, _kind: object) -> CameraProfile:
        profile: CameraProfile = as_written({**EARLIER, **entry}, kind)
        p = len(profile.tone.weights)
        return replace(profile, tone_covariance=profile.tone_covariance.reshape(p, p))

    return profile_of


def _aids_entry(kept: KeptAids) -> Entry:
    aids, chart = kept.aids, kept.aids.chart
    return {
        "neutrals": [
            {"name": area.name, "corners": area.corners, "reflectance": float(reflectance)}
            for area, reflectance in aids.neutrals
        ],
        "cards": [{"name": area.name, "corners": area.corners} for area in aids.cards],
        "encoding": aids.encoding,
        "chart": None
        if chart is None
        else {
            name: {"corners": area.corners, "xyz": chart.xyz[name].tolist()}
            for name, area in chart.patches.items()
        },
        "profile": CONVERTER.unstructure(aids.profile),
        "sheet": kept.sheet_sha256,
    }


def _aids_of(entry: Entry, _kind: object) -> KeptAids:
    def area(one: Entry, **others: str) -> Area:
        return CONVERTER.structure({**others, "corners": one["corners"]}, Area)

    def chart_of(patches: Mapping[str, Entry]) -> Chart:
        return Chart(
            {name: area(patch, name=name) for name, patch in patches.items()},
            {name: _array(patch["xyz"], 3) for name, patch in patches.items()},
        )

    aids = Aids(
        neutrals=tuple(
            (area(one, name=one["name"]), _exactly(one["reflectance"], float))
            for one in entry["neutrals"]
        ),
        encoding=_one_of(entry["encoding"], Encoding),
        chart=None if entry["chart"] is None else chart_of(entry["chart"]),
        profile=None
        if entry["profile"] is None
        else CONVERTER.structure(entry["profile"], CameraProfile),
        cards=tuple(area(c, name=c["name"], role="card") for c in entry["cards"]),
    )
    return KeptAids(aids, _exactly(entry["sheet"], str))


for _kind in (str, bool, int, float):
    CONVERTER.register_structure_hook(_kind, _exactly)
    CONVERTER.register_unstructure_hook(_kind, _kind)
CONVERTER.register_structure_hook_factory(is_dataclass, _from_entry)
CONVERTER.register_unstructure_hook_factory(is_dataclass, _to_entry)
CONVERTER.register_structure_hook_func(_made_of(Literal), _one_of)
CONVERTER.register_structure_hook_func(_made_of(np.ndarray), lambda value, _: _array(value))
CONVERTER.register_unstructure_hook_func(_made_of(np.ndarray), np.ndarray.tolist)
CONVERTER.register_unstructure_hook_func(_made_of(frozenset), sorted)
CONVERTER.register_structure_hook_factory(_made_of(ToneCurve), _tone_from_entry)
CONVERTER.register_structure_hook_factory(_made_of(CameraProfile), _profile_from_entry)
CONVERTER.register_structure_hook_factory(_made_of(Calibration), _calibration_from_entry)
CONVERTER.register_structure_hook(KeptAids, _aids_of)
CONVERTER.register_unstructure_hook(KeptAids, _aids_entry)
