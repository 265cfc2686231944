"""Test strips: which to make, a sheet to print, and the photographed sheet read back at once."""

from collections.abc import Mapping, Sequence
from datetime import date

import streamlit as st

from tonematch.in_words import say_strip
from tonematch.logbook.core import KeptStrips, Piece
from tonematch.logbook.layers_on_repair import ground_of
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.record.strip_reading import keep_sheet, layers_read, read_strips, strips_name
from tonematch.record.strip_sheet import strip_sheet
from tonematch.screens.asking.card import ask_for_card
from tonematch.screens.asking.opening import opened
from tonematch.screens.asking.shots import ask_for_shot, mark_corners
from tonematch.screens.keeping import remembered_card
from tonematch.screens.planning import learned_model
from tonematch.screens.session import STRIPS, bench, go_to
from tonematch.screens.showing.plain import offer_file, plain, warn
from tonematch.screens.showing.plain_numbers import say_layers
from tonematch.toning.core import MOST_STRIPS, Layer, Strip, Trial
from tonematch.toning.layers.mix import USUAL_POT
from tonematch.toning.layers.shelf import at_hand
from tonematch.toning.planning.gap import Workshop, gap_of
from tonematch.toning.planning.ground import say_lying, say_no_strip
from tonematch.toning.planning.strips import choose_strips

FEW_TRIALS = 30  # below it strips are recommended: this project's choice
USUAL_STRIPS = 12
WHY = (
    "Lay the best plans once on offcuts of the same leaf, and a strip of each layer that you never "
    "tried: one photograph of their printed sheet after every layer reads them all."
)


def offer_strips(
    logbook: Logbook,
    piece: Piece,
    gap: Comparison,
    trials: Sequence[Trial],
    shelf: Mapping[str, Layer],
    first: bool = False,
) -> None:
    """Choose strips for a comparison, print their sheet, and read it back into trials.

    Where they come `first`, the page has said so already.
    """
    if not first:
        st.subheader("Test strips", anchor=False)
        few = "Of so few layers the plans are guesses. " if len(trials) < FEW_TRIALS else ""
        st.write(f"{few}{WHY}")
    with st.expander("Choose the strips"):
        count = st.number_input("How many strips at most", 1, MOST_STRIPS, USUAL_STRIPS)
        if st.button("Choose them", width="stretch"):
            on_it = [kept.trial for kept in logbook.kept_trials(piece.name, zone=piece.zone)]
            ground = ground_of(logbook.piece(piece.name, piece.zone), on_it, shelf)
            with st.spinner("Choosing the strips that teach most"):
                model = learned_model(trials, shelf)
                workshop = Workshop(model, at_hand(shelf), ground.surface)
                strips = choose_strips(gap_of(gap), workshop, ground, int(count))
            if not strips:
                warn(say_no_strip(ground, piece.title))
                return
            logbook.keep_strips(piece.name, strips, ground, piece.zone)
            st.rerun()
    sheets = logbook.strip_sheets(piece.name, piece.zone)
    if not sheets:
        return
    sheet = _choose_sheet(sheets)
    read = layers_read(trials, piece, sheet)
    _show_sheet(sheet, piece, read)
    with st.expander("Read the photographed sheet"):
        _read_back(logbook, piece, sheet, max(read))


def _choose_sheet(sheets: Sequence[KeptStrips]) -> KeptStrips:
    if len(sheets) == 1:
        return sheets[0]
    newest_first = list(reversed(sheets))
    return st.selectbox("Sheet", newest_first, format_func=_name_of)


def _name_of(sheet: KeptStrips) -> str:
    return f"Sheet {sheet.id} of {sheet.made_at[:10]}, {len(sheet.strips)} strips"


def _show_sheet(sheet: KeptStrips, piece: Piece, read: Sequence[int]) -> None:
    st.write(f"**{_name_of(sheet)}**")
    with st.expander("Its strips"):
        for lying in sheet.ground.laid:
            st.markdown(f"On every strip: {plain(say_lying(lying))}.")
        numbered = enumerate(zip(sheet.strips, read, strict=True), start=1)
        pot = bench().recall("pot", USUAL_POT)
        told = [f"{i}. {plain(say_strip(s, pot))}{_say_read(s, n)}" for i, (s, n) in numbered]
        st.markdown("\n".join(told))
    offer_file(
        "Save the sheet to print",
        strip_sheet(sheet.strips, sheet.ground, piece.title),
        f"strips {sheet.id}.html",
        "text/html",
    )


def _say_read(strip: Strip, layers: int) -> str:
    return f" ({layers} of {len(strip.steps)} layers read)" if len(strip.steps) > 1 else ""


def _read_back(logbook: Logbook, piece: Piece, sheet: KeptStrips, so_far: int) -> None:
    st.write(
        "Lay the grey card in its place on the sheet, photograph the whole sheet from straight "
        "above in even light, and tap the four corners of its black frame."
    )
    value = ask_for_card(remembered_card(logbook, piece))
    numbers = list(range(1, len(sheet.strips) + 1))
    last = max(len(strip.steps) for strip in sheet.strips)
    following, layers = min(so_far + 1, last), [1]
    if last > 1:
        choices, place = list(range(1, last + 1)), f"layers-{sheet.id}-{following}"
        layers = st.multiselect("Layers to read", choices, [following], key=place)
    failed = "Leave out the strips on which a layer failed."
    made = st.multiselect("Strips to read", numbers, numbers, key=f"made-{sheet.id}", help=failed)
    place = f"{STRIPS}-{sheet.id}"
    shot = ask_for_shot(place, "Photograph of the sheet")
    if shot is None:
        return
    corners = mark_corners(place, shot)
    if len(corners) < 4 or not st.button("Read the strips", type="primary", width="stretch"):
        return
    with st.spinner("Reading the strips"):
        read = read_strips(
            opened(shot.source, shot.name),
            corners,
            sheet.strips,
            sheet.ground,
            value,
            piece=strips_name(piece, sheet),
            date=date.today().isoformat(),
            made=made,
            layers=layers,
        )
    added = keep_sheet(logbook, piece, sheet, read, shot.source, shot.name)
    go_to(
        "Plan",
        f"From the strips: {say_layers(added)}. The plans are made anew.",
        [*read.refused, *read.warnings],
    )
