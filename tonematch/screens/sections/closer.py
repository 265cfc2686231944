"""Looking closer at a comparison: evenness, the look from afar, a map, and lustre."""

from collections.abc import Sequence
from itertools import chain

import streamlit as st

from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.appearance.look import (
    SurfaceLook,
    last_step_of,
    look_at_lustre,
    look_at_surfaces,
    map_of,
)
from tonematch.measure.appearance.lustre_comparison import LustreComparison
from tonematch.measure.core import Comparison
from tonematch.photo.decode import SUFFIXES, load_photo
from tonematch.screens.asking.opening import photo_of, photos_on_bench
from tonematch.screens.keeping import keep_comparison, keep_findings, keep_lustre
from tonematch.screens.sections.second_light import offer_second_light
from tonematch.screens.session import SECOND_LIGHT, Closer, bench, go_to
from tonematch.screens.showing.plain import offer_file, plain, tell, warn
from tonematch.screens.showing.ruler import how_far
from tonematch.screens.showing.swatch import in_numbers, show_swatches

LUSTRE_HOW = (
    "Leave the camera where it stood for this picture, move only the lamp, and take two or more "
    "further pictures with the card, the original and the repair in them."
)

_MAP_WORDS = (
    "A grey map of the repair and what surrounds it: how far each place is from the original"
)


def show_last_step(logbook: Logbook, gap: Comparison) -> None:
    """What is left to do where the colour is near enough and the repair is too even."""
    closer = _closer_of(gap)
    if closer.last_step is None:
        single = bench().singles()[-1]
        photos = photos_on_bench(logbook, single) if gap.verdict == "match" else None
        closer.last_step = () if photos is None else last_step_of(single, *photos)
    for words in closer.last_step:
        tell(words)


def offer_closer(logbook: Logbook, piece: Piece, gap: Comparison) -> None:
    """What else can be compared beside the colour, each when it is asked for."""
    closer, single = _closer_of(gap), bench().singles()[-1]
    if single.original.calibration is not None and single.repair.calibration is not None:
        offer_second_light(logbook, piece, closer, single)
    if gap.original.calibration is None or gap.repair.calibration is None:
        return
    with st.expander("As surfaces: evenness, from afar, and a map"):
        _ask_surfaces(logbook, piece, closer)
        if closer.surface is not None:
            _show_surfaces(closer.surface, closer.last_step or ())
            _show_map(closer.map_png)
    if gap.original.photo_sha256 == gap.repair.photo_sha256:
        with st.expander("Lustre: the same view with the lamp moved"):
            _ask_lustre(logbook, piece, closer)
            if closer.lustre is not None:
                _show_lustre(closer.lustre)


def _closer_of(gap: Comparison) -> Closer:
    held = bench()
    if held.closer is not None and held.closer.comparison is not gap:
        held.closer = None
        held.shots.pop(SECOND_LIGHT, None)  # that of another pair
    held.closer = held.closer or Closer(gap)
    return held.closer


def _ask_surfaces(logbook: Logbook, piece: Piece, closer: Closer) -> None:
    card_mm = st.number_input(
        "How wide is the part of the card that you marked, in mm (empty when not known)",
        min_value=1.0,
        max_value=2000.0,
        value=None,
        format="%.0f",
        help="By it the picture gets its scale, which the look from afar needs.",
    )
    if not st.button("Look closer", width="stretch"):
        return
    gap = closer.comparison
    with st.spinner("Looking at both surfaces"):
        original, repair = (photo_of(logbook, side) for side in (gap.original, gap.repair))
        closer.surface = look_at_surfaces(gap, original, repair, card_mm, piece.viewing_distance_m)
        closer.map_png = map_of(gap, repair)
    keep_comparison(logbook, piece)
    keep_findings(logbook, closer.surface.findings)


def _show_surfaces(look: SurfaceLook, told: Sequence[str]) -> None:
    st.write(f"**{plain(look.evenness.words)}**")
    for words in look.findings[1:]:
        if words not in told:
            st.write(plain(words))
    one, other = look.evenness.original, look.evenness.repair
    with in_numbers():
        st.caption(
            f"Mottling, mean CIEDE2000 from the area's own mean: original {one.mottle:.1f}, repair "
            f"{other.mottle:.1f}."
        )


def _show_map(map_png: bytes) -> None:
    st.image(map_png, width="stretch", alt=_MAP_WORDS)
    offer_file("Save the map", map_png, "difference map.png", "image/png")


def _ask_lustre(logbook: Logbook, piece: Piece, closer: Closer) -> None:
    st.write(LUSTRE_HOW)
    handed = st.file_uploader(
        "Further pictures, the lamp moved", type=list(SUFFIXES), accept_multiple_files=True
    )
    if not handed or not st.button("Compare the lustre", width="stretch"):
        return
    first = photo_of(logbook, closer.comparison.repair)
    with st.spinner("Comparing the lustre"):
        # Decoded one by one and past the cache, so that they do not lie in memory together.
        further = (load_photo(file.getvalue(), file.name) for file in handed)
        closer.lustre = look_at_lustre(closer.comparison, chain([first], further))
    for file in handed:
        logbook.keep_photo(file.getvalue(), file.name, piece.name, piece.zone)
    found = closer.lustre
    keep_lustre(logbook, piece, closer, found)
    told = (found.words, found.mirror_words, found.parting_words)
    keep_findings(logbook, [words for words in told if words])


def _show_lustre(found: LustreComparison) -> None:
    for warning in found.warnings:
        warn(warning)
    st.write(f"**{plain(found.words)}**")
    if found.mirror_words:
        st.write(plain(found.mirror_words))
    if found.parting_words:
        warn(found.parting_words)
    body = found.body
    show_swatches([("Original", body.original.lab), ("Repair", body.repair.lab)], small=True)
    st.write(f"Body colours, away from the gleam: {how_far(body.delta_e)}. {plain(body.words)}")
    one, other = body.original.lustre, body.repair.lustre
    with in_numbers():
        st.caption(f"Body colours, off the mirror direction: CIEDE2000 {body.delta_e:.1f}.")
        if one is not None and other is not None:
            st.caption(
                f"Rise of the gleam above the body: original {one:.1f}, repair {other:.1f} stops."
            )
    if st.button("Plan from the body colours", width="stretch"):
        bench().comparison, bench().kept_comparison = body, None
        go_to("Compare", "These are the body colours: what the eye sees away from the gleam.")
