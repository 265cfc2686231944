"""Train the eye: a pair of golds to judge, then what was measured and what a layer did to it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

import streamlit as st

from tonematch.in_words import say_lab
from tonematch.logbook.core import Judgement, TonePair
from tonematch.logbook.store import Logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.words import WAYS, say_change, ways_off
from tonematch.screens.keeping import invented_pieces, is_invented
from tonematch.screens.sections.kept_pictures import edge_to_edge_crop
from tonematch.screens.session import bench
from tonematch.screens.showing.laid_row import say_amount
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.ruler import PARTS, how_far
from tonematch.screens.showing.swatch import in_numbers, show_swatches
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import at_hand, load_shelf

HOW = "The gold at the left is to be reached, the one at the right is toned. Look before you read."
PAIR_WORDS = "Two golds edge to edge: at the left the one to reach, at the right the one to tone"
LAYERS = 4  # to choose from
AT_ONCE = 20  # pairs whose answers are counted together


@dataclass(frozen=True, eq=False)
class Question:
    """A pair, the layers to choose from where one was laid on it, and what was said of it."""

    pair: TonePair
    layers: tuple[str, ...]
    invented: bool
    said: Judgement | None = None


def show_eye(logbook: Logbook) -> None:
    """A pair to judge, and how often the eye was right."""
    st.write(HOW)
    held, nobody = bench(), None
    question: Question | None = held.recall("eye", nobody)
    if question is None:
        question = held.remember("eye", _next(logbook))
    _show_pair(logbook, question)
    if question.said is None:
        said = _ask(question)
        if said is not None:
            logbook.keep_judgement(said)
            held.remember("eye", replace(question, said=said))
            st.rerun()
    else:
        _tell(question.pair, question.said)
        if st.button("Next pair", type="primary", width="stretch"):
            held.remember("eye", None)
            st.rerun()
    _tell_rates(logbook.judgements())


def _next(logbook: Logbook) -> Question:
    """A pair by chance; of the bundled invented trials while the logbook has none."""
    chance, shelf = Random(len(logbook.judgements())), load_shelf()
    pairs = _that_differ(logbook.tone_pairs()) or _that_differ(
        [TonePair.of_trial(t) for t in read_trials(swatch_path("demo", "trials.csv"), shelf)]
    )
    pair, invented = chance.choice(pairs), invented_pieces(logbook)
    if pair.laid is None:
        return Question(pair, (), pair.piece in invented)
    laid = pair.laid.application.layer
    others = sorted({layer.name for layer in at_hand(shelf)} | {*logbook.layers_laid()} - {laid})
    layers = sorted([laid, *chance.sample(others, LAYERS - 1)])
    is_so = pair.piece in invented or is_invented(pair.laid, invented)
    return Question(pair, tuple(layers), is_so)


def _that_differ(pairs: Sequence[TonePair]) -> list[TonePair]:
    return [pair for pair in pairs if ways_off(pair.old, pair.new)]


def _show_pair(logbook: Logbook, question: Question) -> None:
    """Both golds as they were photographed, else their flat colours."""
    pair, kept = question.pair, question.pair.comparison
    shown = None if kept is None else edge_to_edge_crop(logbook, kept.original, kept.repair)
    if shown is None:
        show_swatches([("To reach", pair.old), ("To tone", pair.new)])
    else:
        st.image(shown, width="stretch", alt=PAIR_WORDS)
    if question.invented:
        st.caption("These two are invented.")


def _ask(question: Question) -> Judgement | None:
    """Three questions; None until all that were asked are answered."""
    pair = question.pair
    with st.form("eye", border=False):
        way = st.radio("Which way is the right one off?", WAYS, None, horizontal=True)
        far = st.radio("How far?", PARTS, None, horizontal=True)
        layer = ""
        if question.layers:
            layer = (
                st.radio("Which of these would you lay?", question.layers, None, format_func=plain)
                or ""
            )
        if not st.form_submit_button("Show what was measured", type="primary", width="stretch"):
            return None
    if way is None or far is None or bool(layer) != bool(question.layers):
        st.warning("Say something to each: a guess will do.", icon=":material/info:")
        return None
    laid = pair.laid.application.layer if pair.laid else ""
    away = how_far(float(delta_e_2000(pair.old, pair.new)))
    return Judgement(way, ways_off(pair.old, pair.new), far, away, layer, laid)


def _tell(pair: TonePair, said: Judgement) -> None:
    """What was measured beside what was said, and what the layer did."""
    st.write(f"**Which way:** {', then '.join(said.ways_read)}. You said {said.way}.")
    st.write(f"**How far:** {said.far_read}. You said {said.far}.")
    if pair.laid is not None:
        _tell_layer(pair, pair.laid, said.layer)
    with in_numbers():
        st.write(f"To reach: {say_lab(pair.old)}. To tone: {say_lab(pair.new)}.")
        st.write(f"CIEDE2000 {float(delta_e_2000(pair.old, pair.new)):.1f}.")


def _tell_layer(pair: TonePair, trial: Trial, chosen: str) -> None:
    laid = trial.application
    st.write(
        f"**Laid was** {plain(laid.layer)}, {say_amount(laid)}: it became "
        f"{say_change(laid.before, trial.after) or 'no other'}. You would lay {plain(chosen)}."
    )
    show_swatches(
        [("To reach", pair.old), ("Before it", laid.before), ("After it", trial.after)], small=True
    )


def _tell_rates(judgements: Sequence[Judgement]) -> None:
    """How often what was said was what was measured: of the newest, and of those before."""
    latest, before = judgements[-AT_ONCE:], judgements[-2 * AT_ONCE : -AT_ONCE]
    for words, some in (("Of your last {}", latest), ("Of the {} before", before)):
        if some:
            asked = [j for j in some if j.laid]
            told = [
                f"which way {sum(j.way in j.ways_read for j in some)}",
                f"how far {sum(j.far == j.far_read for j in some)}",
                f"the layer that was laid {sum(j.layer == j.laid for j in asked)} of {len(asked)}",
            ]
            st.caption(f"{words.format(len(some))} you said what was so: {', '.join(told)}.")
