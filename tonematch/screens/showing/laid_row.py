"""What was laid, as a row of the logbook: before beside after, and what it did, in words."""

from collections.abc import Sequence
from datetime import datetime
from html import escape

from tonematch.logbook.core import KeptTrial
from tonematch.measure.colour.convert import lab_to_srgb_hex
from tonematch.measure.words import capital, say_change
from tonematch.screens.showing.ruler import how_far
from tonematch.toning.core import Application
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.layers.mix import say_share
from tonematch.toning.validation.outliers import Outlier


def row_html(
    kept: KeptTrial,
    states: Sequence[str],
    away: float | None = None,
    doubt: Outlier | None = None,
    crops: Sequence[str] = (),
) -> str:
    """One row.

    Parameters
    ----------
    states : sequence of str
        What is to be known of it: invented, put right, left out.
    away : float, optional
        CIEDE2000 from a colour that was looked for.
    crops : sequence of str
        URLs of what was photographed before and after; flat colours stand where there are none.
    """
    trial, laid = kept.trial, kept.trial.application
    colours = laid.before, trial.after
    words = zip(crops, ("before it", "after it"), strict=False)
    sides = [f'<img src="{url}" alt="As photographed {when}">' for url, when in words] or [
        f'<div style="background:{lab_to_srgb_hex(lab)}"></div>' for lab in colours
    ]
    change = capital(say_change(*colours) or "no change")
    place = ", ".join(filter(None, [trial.where, say_day(trial.date or kept.made_at), *states]))
    told = [
        f"<b>{escape(laid.layer)}</b>, {say_amount(laid)}",
        f"{change}." + ("" if away is None else f" From the colour you look for: {how_far(away)}."),
        f"{escape(place)}. No. {kept.id}",
    ]
    if doubt is not None:
        told.append(f"<b>\u26a0 Mistyped?</b> {escape(capital(doubt.slip))}.")
    lines = "".join(f"<div>{line}</div>" for line in told)
    return (
        f'<div class="tm-row"><div class="tm-pair" role="img" aria-label="Before at the left, '
        f'after at the right: {change}">{"".join(sides)}</div><div>{lines}</div></div>'
    )


def say_amount(laid: Application) -> str:
    """``a quarter of the full mix, 2 coats``."""
    share = "" if laid.strength == 1.0 else f"{say_share(laid.strength)} "
    return f"{share}the full mix, {say_coats(laid.coats)}"


def say_day(date: str) -> str:
    """``26 Nov 2026``, of a date that ISO 8601 begins with; as it stands where none does."""
    try:
        day = datetime.fromisoformat(date)
    except ValueError:
        return date
    return f"{day.day} {day:%b %Y}"
