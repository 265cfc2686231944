"""The surface as it is today: what the rules of layering need to know beyond the piece."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import groupby
from typing import get_args

import streamlit as st

from tonematch.logbook.core import Air, Piece, moment_of, moment_text
from tonematch.logbook.layers_on_repair import surface_of
from tonematch.logbook.store import Logbook
from tonematch.screens.showing.plain import plain
from tonematch.toning.core import Glass, Layer, Surface
from tonematch.toning.layers.coats import MOST_CELSIUS


def ask_surface(
    logbook: Logbook, piece: Piece, shelf: Mapping[str, Layer], *, laying: bool = False
) -> Surface:
    """Ask what the rules need to know of the gilding; what is answered is kept with the piece.

    Where a layer is about to be laid, the air stands open until it was said once a day.
    """
    known = logbook.last_air() or Air(piece.temperature, piece.humidity)
    trials = [kept.trial for kept in logbook.kept_trials(piece.name, zone=piece.zone)]
    with st.expander("The surface today"):
        told = replace(piece, laid_before=_ask_laid_before(piece, shelf))
        surface = surface_of(told, trials, shelf)
        laid = (layer.name for layer in surface.beneath)
        names = ", then ".join(name for name, _ in groupby(laid))
        st.write(f"On the repair now: {plain(names) or 'nothing yet'}.")
        told = ask_gilding(told, piece.title)
    is_open = laying and st.session_state.setdefault(_asked_today(), not _is_of_today(known))
    with st.expander("The air of the workshop", expanded=is_open):
        air = ask_air(known, piece.title)
    if air != known:
        told = with_air(told, air)
    if told != piece:
        logbook.change_piece(piece.name, told, zone=piece.zone)
        st.rerun()  # the questions are made anew around what is kept
    surface = surface_of(told, trials, shelf)
    return replace(surface, temperature=air.temperature, humidity=air.humidity)


def air_was_said() -> None:
    """A layer was laid in it: it is not asked for again today."""
    st.session_state[_asked_today()] = False


def _asked_today() -> str:
    return f"air {date.today()}"


def _is_of_today(air: Air) -> bool:
    return bool(air.told_at) and moment_of(air.told_at).date() == date.today()


def ask_air(known: Air, place: str) -> Air:
    """Ask how warm and damp the workshop is, filled with what was said last."""
    temperature = ask_if_known(
        "Temperature, in °C", (0.0, MOST_CELSIUS, 1.0), f"temperature-{place}", known.temperature
    )
    humidity = ask_if_known(
        "Relative humidity, in %", (0.0, 100.0, 5.0), f"humidity-{place}", known.humidity
    )
    st.caption("Oil dries slower in the cold, what is water-borne in damp air.")
    if (temperature, humidity) == (known.temperature, known.humidity):
        return known
    return Air(temperature, humidity, moment_text(datetime.now(UTC)))


def with_air(piece: Piece, air: Air) -> Piece:
    """A piece with the air that was told."""
    return replace(
        piece, temperature=air.temperature, humidity=air.humidity, air_told_at=air.told_at
    )


def ask_gilding(piece: Piece, place: str) -> Piece:
    """Ask how old the gold is, what coats it, and of the glass; the piece as answered.

    The questions are made anew around another answer in the logbook, so that a page left open
    elsewhere does not take back what was answered since; `place` is of this question alone.
    """
    known = None
    if piece.gilded_at:
        known = moment_of(piece.gilded_at).replace(second=0, tzinfo=None)
    laid = st.datetime_input(
        "When the gold was laid (leave empty when nobody knows)",
        None,
        format="YYYY-MM-DD",
        key=_key_to_clear(f"laid-{place}", known),
        help="Fresh oil gilding is soft: what may be laid on it, and when, depends on this.",
    )
    historic = st.checkbox("The gold being toned is itself old", piece.historic)
    unknown_coating = st.checkbox(
        "An old coating that nobody can name lies on it",
        piece.unknown_coating,
        help="Bronze paint passes for old gold: brown, grainy, without laps of leaf.",
    )
    glasses = get_args(Glass)
    glass = st.radio(
        "Glass in the piece",
        glasses,
        index=glasses.index(piece.glass),
        horizontal=True,
        key=f"glass-{place}-{piece.glass}",
        help="An old mirror was silvered before about 1900, perhaps with tin and mercury.",
    )
    gilded_at = piece.gilded_at
    if laid != known:
        gilded_at = "" if laid is None else moment_text(laid.astimezone())
    return replace(
        piece,
        gilded_at=gilded_at,
        historic=historic,
        unknown_coating=unknown_coating,
        glass=glass,
    )


def ask_if_known(
    label: str,
    range_and_step: tuple[float, float, float],
    question: str,
    known: float | None,
    form: str = "%.0f",
) -> float | None:
    """Ask for a number that may be left empty, filled with what is known."""
    least, most, step = range_and_step
    return st.number_input(
        f"{label} (leave empty when not known)",
        min_value=least,
        max_value=most,
        value=None,
        step=step,
        format=form,
        key=_key_to_clear(question, known),
    )


def _key_to_clear(question: str, known: datetime | float | None) -> str:
    """A key under which a question holds what is known and can still be left empty."""
    key = f"{question}-{known}"
    st.session_state.setdefault(key, known)
    return key


def _ask_laid_before(piece: Piece, shelf: Mapping[str, Layer]) -> tuple[str, ...]:
    """Names of what lay there before the first trial."""
    known = tuple(name for name in piece.laid_before if name in shelf)
    chosen = tuple(
        st.multiselect(
            "What lay on the repair before you began, the lowest first",
            list(shelf),
            default=known,
            placeholder="nothing: bare gold",
            key=f"laid-before-{piece.title}",
        )
    )
    return piece.laid_before if chosen == known else chosen
