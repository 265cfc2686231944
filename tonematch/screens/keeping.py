"""Between the bench and the logbook: what is looked up there, and what is kept."""

from collections.abc import Sequence
from dataclasses import replace

from tonematch.logbook.core import LayerInProgress, Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.appearance.look import with_lustre
from tonematch.measure.appearance.lustre_comparison import LustreComparison
from tonematch.measure.core import CardValue, Comparison
from tonematch.screens.drafts import end_draft, take_draft
from tonematch.screens.session import Closer, bench
from tonematch.toning.core import Layer, Proposal, Trial


def current_piece(logbook: Logbook) -> Piece | None:
    """The piece on the bench, as the logbook has it now."""
    return logbook.piece(bench().piece, bench().zone) if bench().piece else None


def take_up(logbook: Logbook, name: str, zone: str = "") -> None:
    """Put a piece on the bench, with its last comparison, the layer in progress and its draft."""
    held = bench()
    held.take_up(name, zone)
    last = logbook.last_comparison(name, zone)
    if last is not None:
        held.comparison, held.kept_comparison = last.comparison, last.id
    laid = logbook.layer_in_progress(name, zone)
    held.laid = None if laid is None else laid.id
    take_draft(logbook)


def remembered_card(logbook: Logbook, piece: Piece) -> CardValue | None:
    """What the card was known to be at the piece's last comparison."""
    last = logbook.last_comparison(piece.name, piece.zone)
    calibration = None if last is None else last.repair.calibration
    return calibration.value if calibration else None


def keep_layer(logbook: Logbook, name: str, layer: Layer) -> None:
    """Keep what is said of a layer on the gilder's own shelf, whoever described it so far."""
    if name not in {own.name for own in logbook.own_layers(retired=True)}:
        logbook.add_layer(replace(layer, name=name))
        if layer.name == name:
            return
    logbook.bring_back_layer(name)
    logbook.change_layer(name, layer)


def invented_pieces(logbook: Logbook) -> set[str]:
    """Names of the pieces that exist only for the demonstration."""
    return {piece.name for piece in logbook.pieces() if piece.invented}


def is_invented(trial: Trial, pieces: set[str]) -> bool:
    """Whether a trial is on an invented piece, or says of itself that it is invented."""
    return trial.piece in pieces or trial.note.casefold().startswith("invented")


def keep_comparison(logbook: Logbook, piece: Piece) -> None:
    """Keep the comparison on the bench and its photographs, once."""
    held = bench()
    if held.comparison is None or held.kept_comparison is not None:
        return
    for source, name in _photos_of(held.comparison):
        logbook.keep_photo(source, name, piece.name, piece.zone)
    held.kept_comparison = logbook.keep_comparison(
        piece.name, held.comparison, held.aids, piece.zone
    )
    end_draft(logbook)


def keep_lustre(logbook: Logbook, piece: Piece, closer: Closer, found: LustreComparison) -> None:
    """Take the lustres that were found into the comparison on the bench, and keep it so."""
    held = bench()
    known = with_lustre(closer.comparison, found)
    if held.repeats is not None and held.repeats.together is held.comparison:
        held.repeats = replace(held.repeats, together=known)
    held.comparison = closer.comparison = known
    if held.kept_comparison is None:
        keep_comparison(logbook, piece)
    else:
        logbook.keep_lustre(held.kept_comparison, known)


def keep_findings(logbook: Logbook, findings: Sequence[str]) -> None:
    """Keep what was found beside the colour with the comparison on the bench."""
    number = bench().kept_comparison
    if number is not None:
        logbook.add_findings(number, findings)


def keep_proposal(logbook: Logbook, piece: Piece, proposal: Proposal) -> None:
    """Keep plans when they are shown for the first time."""
    held = bench()
    if held.kept_proposal is not proposal:
        logbook.keep_proposal(piece.name, proposal, held.kept_comparison, piece.zone)
        held.kept_proposal = proposal


def is_behind(logbook: Logbook, piece: Piece, laid: LayerInProgress | None) -> bool:
    """Whether another page has laid, ended or compared something since this one was shown."""
    held = bench()
    if laid is not None or held.laid is not None:
        return (None if laid is None else laid.id) != held.laid
    if held.kept_comparison is None:
        return False
    last = logbook.last_comparison(piece.name, piece.zone)
    return last is None or last.id != held.kept_comparison


def keep_trial(logbook: Logbook, laid: LayerInProgress, after: Comparison, note: str) -> Trial:
    """Make a layer in progress a trial, and take the comparison after it on the bench."""
    held = bench()
    trial, number = logbook.log_layer(laid.id, after, _photos_of(after), note=note, aids=held.aids)
    held.comparison, held.kept_comparison, held.laid = after, number, None
    end_draft(logbook)
    return trial


def _photos_of(comparison: Comparison) -> list[tuple[bytes, str]]:
    """The photographs on the bench that a comparison stands on, with their names."""
    used = {
        reading.photo_sha256
        for single in (comparison, *bench().singles())
        for reading in (single.original, single.repair)
    }
    helped = (bench().aids[sha256] for sha256 in used & bench().aids.keys())
    used |= {aids.flat_field.sha256 for aids in helped if aids.flat_field is not None}
    return [(s.source, s.name) for s in bench().shots.values() if s.sha256 in used]
