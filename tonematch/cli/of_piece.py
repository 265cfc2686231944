"""A piece as commands speak of it: its surface, the comparison kept with it, the gap to plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Annotated, Any

import typer

from tonematch.arrays import Vector3
from tonematch.cli import typed
from tonematch.cli.options import (
    USUAL_TOLERANCE,
    FinishName,
    GlassName,
    Humidity,
    TechniqueName,
    Temperature,
    ZoneName,
    open_logbook,
)
from tonematch.errors import LogbookError, ValueRefused
from tonematch.logbook.core import KeptComparison, Piece, moment_text
from tonematch.logbook.layers_on_repair import surface_of
from tonematch.measure.core import Comparison
from tonematch.measure.marked import Marked
from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.coats import MOST_CELSIUS
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.layers.taking_back import stack_after
from tonematch.toning.planning.gap import Gap, WorkshopModel, gap_of, typed_gap

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

        _within("--hours", self.hours, MOST_HOURS)
        _within("--humidity", self.humidity, 100.0)
        _within("--temperature", self.temperature, MOST_CELSIUS)

    def circumstances(self) -> dict[str, Any]:
        """Those that a piece and a surface have alike."""
        return typed.told(
            historic=self.old_gold,
            unknown_coating=self.unknown_coating,
            humidity=self.humidity,
            temperature=self.temperature,
            glass=typed.known(self.glass),
        )

    def of_piece(self) -> dict[str, Any]:
        """Those of a piece's fields that were told; hours count from a moment."""
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
    shelf: Mapping[str, Layer],
) -> tuple[Piece | None, Surface, KeptComparison | None]:
    """A piece of the logbook, its surface, and how it compared last; nothing for no piece."""
    if piece is None:
        _refuse_zone(zone)
        return None, Surface(), None
    if trials is not None:
        raise ValueRefused("--piece is looked up in the logbook: leave out --trials.")
    with open_logbook(logbook) as book:
        job = book.piece(piece, zone)
        laid = [kept.trial for kept in book.kept_trials(piece, zone=zone)]
        last = book.last_comparison(piece, zone)
    return job, surface_of(job, laid, shelf), last


def told_of(known: Surface, shelf: Mapping[str, Layer], gilding: TypedGilding) -> Surface:
    """A surface with what was typed of it in the place of what was known."""
    beneath: tuple[Layer, ...] = ()
    for name in gilding.laid or ():
        beneath = stack_after(beneath, find_layer(shelf, name))
    told = typed.told(
        technique=typed.known(gilding.technique),
        finish=typed.known(gilding.finish),
        beneath=beneath or None,
        read_before=(None,) * len(beneath) or None,
        boles=tuple(gilding.bole or ()) or None,
        hours_since_gilding=gilding.hours,
    )
    return replace(known, **gilding.circumstances(), **told)


def _within(option: str, number: float | None, most: float) -> None:
    if number is not None and not 0.0 <= number <= most:
        raise ValueRefused(f"{option} {number:g}: give a number from 0 to {most:g}.")


@dataclass(frozen=True)
class OfPiece:
    """What was typed of the piece that a comparison is kept with."""

    piece: Annotated[
        str | None,
        typer.Option(help="Keep it, with its photographs, with this piece of the logbook."),
    ] = None
    zone: ZoneName = ""

    def held_to(self, tolerance: float | None, logbook: str | None) -> float:
        """The tolerance that was typed, or else that of the piece, or else the usual one."""
        kept = USUAL_TOLERANCE
        if self.piece is None:
            _refuse_zone(self.zone)
        else:
            with open_logbook(logbook) as book:
                kept = book.piece(self.piece, self.zone).tolerance
        return kept if tolerance is None else tolerance

    def keep(
        self,
        comparison: Comparison,
        marked: Sequence[Marked],
        files: Sequence[Path],
        findings: Sequence[str],
        logbook: str | None,
    ) -> list[str]:
        """Keep a comparison, the files of its photographs and what was found; what to say of it."""
        if self.piece is None:
            return []
        with open_logbook(logbook) as book:
            for file in files:
                book.keep_photo(file.read_bytes(), file.name, self.piece, self.zone)
            aids = {one.photo.sha256: one.aids for one in marked}
            number = book.keep_comparison(self.piece, comparison, aids, self.zone)
            book.add_findings(number, findings)
            title = book.piece(self.piece, self.zone).title
        return [f"It is kept with {title}, and so are its photographs."]


def asked_gap(
    piece: Piece | None,
    last: KeptComparison | None,
    start: Vector3 | None,
    to: Vector3 | None,
    model: WorkshopModel,
) -> Gap:
    """From the repair now to what it should become, as typed or as the piece was compared last."""
    if start is not None and to is not None:
        return typed_gap(start, to, model, USUAL_TOLERANCE if piece is None else piece.tolerance)
    if piece is None or start is not None or to is not None:
        raise ValueRefused(
            "Toning goes from one colour to another: give both --from and --to, or neither for a "
            "piece that was compared."
        )
    if last is None:
        raise LogbookError(
            f"No comparison of {piece.title} is in the logbook: 'tonematch compare' with --piece "
            "keeps one, or give --from and --to."
        )
    return gap_of(last.comparison)


def _refuse_zone(zone: str) -> None:
    """A zone without its piece is no place."""
    if zone:
        raise ValueRefused(f"{zone!r} is a zone of a piece: say of which by --piece.")
