"""The surface that a command speaks of: what the logbook knows of it, and what is told."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tonematch.cli import typed
from tonematch.cli.options import FinishName, GlassName, Humidity, TechniqueName, Temperature
from tonematch.errors import ValueRefused

if TYPE_CHECKING:
    from tonematch.logbook.core import KeptComparison, Piece
    from tonematch.toning.core import Layer, Surface

MOST_HOURS = 100_000.0  # eleven years; gold that is older is old (a choice)


@dataclass(frozen=True)
class TypedCircumstances:
    """What was typed of when and where a piece was gilded; None is not known."""

    hours: Annotated[
        float | None, typer.Option(help="Hours since the gold was laid, where known.")
    ] = None
    old_gold: Annotated[
        bool | None,
        typer.Option("--old-gold/--new-gold", help="The gold being toned is itself old."),
    ] = None
    unknown_coating: Annotated[
        bool | None,
        typer.Option(
            help="An old coating that nobody can name lies on it; bronze paint passes for old gold."
        ),
    ] = None
    humidity: Humidity = None
    temperature: Temperature = None
    glass: GlassName = "unknown"

    def __post_init__(self) -> None:
        from tonematch.toning.layers.coats import MOST_CELSIUS

        _within("--hours", self.hours, MOST_HOURS)
        _within("--humidity", self.humidity, 100.0)
        _within("--temperature", self.temperature, MOST_CELSIUS)

    def circumstances(self) -> dict[str, Any]:
        """Those that a piece and a surface have alike."""
        told = {
            "historic": self.old_gold,
            "unknown_coating": self.unknown_coating,
            "humidity": self.humidity,
            "temperature": self.temperature,
            "glass": self.glass,
        }
        return {field: value for field, value in told.items() if value not in (None, "unknown")}

    def of_piece(self) -> dict[str, Any]:
        """Those of a piece's fields that were told; hours count from a moment."""
        from tonematch.logbook.core import moment_text

        told, now = self.circumstances(), datetime.now(UTC)
        if {"humidity", "temperature"} & told.keys():
            told["air_told_at"] = moment_text(now)
        if self.hours is not None:
            told["gilded_at"] = moment_text(now - timedelta(hours=self.hours))
        return told


@dataclass(frozen=True)
class TypedGilding(TypedCircumstances):
    """What was typed of a gilding and of what lies on it."""

    technique: TechniqueName = "unknown"
    finish: FinishName = "unknown"
    laid: Annotated[
        list[str] | None,
        typer.Option(metavar="LAYER", help="What lies there; repeat for each coat, in order."),
    ] = None
    bole: Annotated[
        list[str] | None, typed.bole(help="What lies beneath the leaf, where known; repeat.")
    ] = None


def known_surface(
    piece: str | None,
    zone: str,
    trials: Path | None,
    logbook: str | None,
    shelf: "Mapping[str, Layer]",
) -> "tuple[Piece | None, Surface, KeptComparison | None]":
    """A piece of the logbook, its surface, and how it compared last; nothing for no piece."""
    from tonematch.toning.core import Surface

    if piece is None:
        if zone:
            raise ValueRefused(f"{zone!r} is a zone of a piece: say of which by --piece.")
        return None, Surface(), None
    from tonematch.logbook.layers_on_repair import surface_of
    from tonematch.logbook.store import open_logbook

    if trials is not None:
        raise ValueRefused("--piece is looked up in the logbook: leave out --trials.")
    with open_logbook(logbook) as book:
        job = book.piece(piece, zone)
        laid = [kept.trial for kept in book.kept_trials(piece, zone=zone)]
        last = book.last_comparison(piece, zone)
    return job, surface_of(job, laid, shelf), last


def told_of(known: "Surface", shelf: "Mapping[str, Layer]", gilding: TypedGilding) -> "Surface":
    """A surface with what was typed of it in the place of what was known."""
    from tonematch.toning.layers.shelf import find_layer
    from tonematch.toning.layers.taking_back import stack_after

    beneath: tuple[Layer, ...] = ()
    for name in gilding.laid or ():
        beneath = stack_after(beneath, find_layer(shelf, name))
    told = gilding.circumstances() | {
        "technique": gilding.technique,
        "finish": gilding.finish,
        "beneath": beneath,
        "read_before": (None,) * len(beneath),
        "boles": tuple(gilding.bole or ()),
        "hours_since_gilding": gilding.hours,
    }
    return replace(known, **{k: v for k, v in told.items() if v not in (None, (), "unknown")})


def _within(option: str, number: float | None, most: float) -> None:
    if number is not None and not 0.0 <= number <= most:
        raise ValueRefused(f"{option} {number:g}: give a number from 0 to {most:g}.")
