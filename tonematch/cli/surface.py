"""The surface that a command speaks of: what the logbook knows of it, and what is told."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tonematch.cli.typed import bole_named, finish_named, technique_named
from tonematch.errors import ValueRefused

if TYPE_CHECKING:
    from tonematch.toning.core import Layer, Surface

MOST_HOURS = 100_000.0  # eleven years; gold that is older is old (a choice)


def known_surface(
    piece: str | None, trials: Path | None, logbook: Path | None, shelf: "Mapping[str, Layer]"
) -> "Surface":
    """What the logbook knows of a piece's gilding; nothing where no piece is named."""
    from tonematch.toning.core import Surface

    if piece is None:
        return Surface()
    from tonematch.logbook.layers_on_repair import layers_on
    from tonematch.logbook.store import open_logbook

    if trials is not None:
        raise ValueRefused("--piece is looked up in the logbook: leave out --trials.")
    with open_logbook(logbook) as book:
        job = book.piece(piece)
        laid = [kept.trial for kept in book.kept_trials(piece)]
    return job.surface(layers_on(job, laid, shelf))


def told_of(
    known: "Surface",
    shelf: "Mapping[str, Layer]",
    technique: str,
    finish: str,
    laid: Sequence[str] | None = None,
    bole: Sequence[str] | None = None,
    hours: float | None = None,
    old_gold: bool | None = None,
    unknown_coating: bool | None = None,
    humidity: float | None = None,
) -> "Surface":
    """A surface with what is told of it in the place of what was known."""
    from tonematch.toning.layers.shelf import find_layer

    told: dict[str, Any] = {
        "technique": technique_named(technique),
        "finish": finish_named(finish),
        "beneath": tuple(find_layer(shelf, name) for name in laid or ()),
        "boles": tuple(bole_named("--bole", name) for name in bole or ()),
        "hours_since_gilding": _within("--hours", hours, MOST_HOURS),
        "historic": old_gold,
        "unknown_coating": unknown_coating,
        "humidity": _within("--humidity", humidity, 100.0),
    }
    return replace(known, **{k: v for k, v in told.items() if v not in (None, (), "unknown")})


def gilding_told(
    hours: float | None,
    old_gold: bool | None,
    unknown_coating: bool | None,
    humidity: float | None,
) -> dict[str, Any]:
    """Those of a piece's fields that were told; hours become the moment that they count from."""
    from tonematch.logbook.core import moment_text

    _within("--hours", hours, MOST_HOURS)
    laid = None if hours is None else moment_text(datetime.now(UTC) - timedelta(hours=hours))
    told = {
        "gilded_at": laid,
        "historic": old_gold,
        "unknown_coating": unknown_coating,
        "humidity": _within("--humidity", humidity, 100.0),
    }
    return {field: value for field, value in told.items() if value is not None}


def _within(option: str, number: float | None, most: float) -> float | None:
    if number is not None and not 0.0 <= number <= most:
        raise ValueRefused(f"{option} {number:g}: give a number from 0 to {most:g}.")
    return number
