"""A comparison of a piece: held to its tolerance, kept with it, and planned from."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tonematch.cli.options import USUAL_TOLERANCE, ZoneName
from tonematch.errors import LogbookError, ValueRefused

if TYPE_CHECKING:
    from tonematch.arrays import Vector3
    from tonematch.logbook.core import KeptComparison, Piece
    from tonematch.measure.core import Comparison
    from tonematch.measure.marked import Marked
    from tonematch.toning.planning.gap import Gap, WorkshopModel


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
        if self.piece is not None:
            from tonematch.logbook.store import open_logbook

            with open_logbook(logbook) as book:
                kept = book.piece(self.piece, self.zone).tolerance
        elif self.zone:
            raise ValueRefused(f"{self.zone!r} is a zone of a piece: say of which by --piece.")
        return kept if tolerance is None else tolerance

    def keep(
        self,
        comparison: "Comparison",
        marked: "Sequence[Marked]",
        files: Sequence[Path],
        findings: Sequence[str],
        logbook: str | None,
    ) -> list[str]:
        """Keep a comparison, the files of its photographs and what was found; what to say of it."""
        if self.piece is None:
            return []
        from tonematch.logbook.store import open_logbook

        with open_logbook(logbook) as book:
            for file in files:
                book.keep_photo(file.read_bytes(), file.name, self.piece, self.zone)
            aids = {one.photo.sha256: one.aids for one in marked}
            number = book.keep_comparison(self.piece, comparison, aids, self.zone)
            book.add_findings(number, findings)
            title = book.piece(self.piece, self.zone).title
        return [f"It is kept with {title}, and so are its photographs."]


def asked_gap(
    piece: "Piece | None",
    last: "KeptComparison | None",
    start: "Vector3 | None",
    to: "Vector3 | None",
    model: "WorkshopModel",
) -> "Gap":
    """From the repair now to what it should become, as typed or as the piece was compared last."""
    from tonematch.toning.planning.gap import gap_of, typed_gap

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
