"""Plan: layers in order, what each should do, and the chance of landing within tolerance."""

from collections.abc import Mapping, Sequence

import streamlit as st

from tonematch.in_words import say_what_chance
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.screens.asking.surface import ask_surface
from tonematch.screens.keeping import (
    current_piece,
    invented_pieces,
    is_invented,
    keep_comparison,
    keep_proposal,
)
from tonematch.screens.planning import learned_model, proposed, useful_mixes
from tonematch.screens.sections.closer import show_last_step
from tonematch.screens.sections.leaf import show_leaf
from tonematch.screens.sections.painted import Brush, scene_on_bench
from tonematch.screens.sections.plan_card import show_last_layer, show_plan
from tonematch.screens.sections.strips import offer_strips
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.layer_words import show_job_cautions
from tonematch.screens.showing.plain import plain, tell, warn
from tonematch.screens.showing.plain_numbers import say_layers
from tonematch.screens.showing.ruler import ruler_html
from tonematch.toning.core import Layer, Plan, Proposal, Step, Trial
from tonematch.toning.layers.mix import LEAST_POT, MOST_POT, USUAL_POT
from tonematch.toning.layers.taking_back import lifts_on
from tonematch.toning.planning.choice import is_offered
from tonematch.toning.planning.gap import gap_of
from tonematch.toning.planning.telling import PlanTeller, asks_for_strips

FOOT = (
    "A plan is a proposal, not a promise: try it on a strip with the same ground, bole, leaf and "
    "burnish first. Follow the maker's data sheet and local rules; an old or rare piece goes to "
    "an accredited conservator."
)


def plan_page(logbook: Logbook) -> None:
    """The page that proposes plans for the latest comparison."""
    piece = current_piece(logbook)
    gap = bench().comparison
    original = bench().original
    if piece is not None and gap is not None:
        keep_comparison(logbook, piece)
        _plan(logbook, piece, gap)
    elif piece is not None and original is not None:
        show_leaf(logbook, piece, original)
    else:
        tell("A plan needs a comparison: photograph the piece and mark the areas first.")


def _plan(logbook: Logbook, piece: Piece, gap: Comparison) -> None:
    shelf, trials = logbook.known_layers(), logbook.trials()
    answer = st.container()  # stands above what it is made from, which is asked first
    surface = ask_surface(logbook, piece, shelf)
    pot, mixing = _ask_pot(), st.toggle("Plan with two washes or glazes mixed in one pot as well")
    _say_foot(logbook, trials)
    with answer:
        show_last_layer(bench().last)
        st.html(ruler_html(gap, small=True))
        proposal = proposed(trials, shelf, surface, gap_of(gap), mixing)
        keep_proposal(logbook, piece, proposal)
        _say_first(proposal)
        show_last_step(logbook, gap)
        strips_first = asks_for_strips(proposal)
        if strips_first:
            offer_strips(logbook, piece, gap, trials, shelf, first=True)
        model, known = learned_model(trials, shelf), dict(shelf)
        if mixing:
            model, mixes = useful_mixes(trials, shelf, surface, gap.repair.lab, gap.original.lab)
            known |= {mix.name: mix for mix in mixes}
            st.caption("" if mixes else "No mix of two comes nearer here than its parts.")
        known |= {lift.name: lift for lift, _ in lifts_on(surface)}
        laying = {n: plan for n, plan in enumerate(proposal.plans, start=1) if plan.steps}
        scene = scene_on_bench(logbook, gap) if laying else None
        brush = None if scene is None else Brush(scene, model, known, surface)
        teller = PlanTeller(known, surface, pot)
        _show_plans(logbook, proposal, laying, teller, brush)
        if not strips_first:
            offer_strips(logbook, piece, gap, trials, shelf)


def _say_first(proposal: Proposal) -> None:
    """What comes before any layer: what is missing, what to know, and why to stop."""
    if proposal.missing:
        warn(proposal.missing)
    stops = [plan for plan in proposal.plans if not plan.steps]
    said = [*proposal.notes, *(w for plan in stops for w in (plan.words, *plan.cautions))]
    for words in said:
        tell(words)


def _show_plans(
    logbook: Logbook,
    proposal: Proposal,
    laying: Mapping[int, Plan],
    teller: PlanTeller,
    brush: Brush | None,
) -> None:
    """A card for each plan that lays something; its button takes up the first step."""
    show_job_cautions(teller.job(laying.values()))
    for number, plan in laying.items():
        if show_plan(number, plan, proposal, teller, brush):
            _take_up(logbook, plan.steps[0], teller.layers)
            go_to("Lay a layer")
    if any(map(is_offered, laying.values())):
        st.caption(plain(say_what_chance()))


def _ask_pot() -> float:
    """How much is mixed, in ml."""
    held = bench()
    pot = st.number_input(
        "Pot, in ml: what the plans mix",
        LEAST_POT,
        MOST_POT,
        held.recall("pot", USUAL_POT),
        step=5.0,
        format="%g",
        key="pot",
        width=280,
    )
    return held.remember("pot", pot)


def _say_foot(logbook: Logbook, trials: Sequence[Trial]) -> None:
    pieces = invented_pieces(logbook)
    invented = sum(is_invented(trial, pieces) for trial in trials)
    known = say_layers(len(trials), invented)
    st.caption(f"Planned from {known}. {FOOT}")


def _take_up(logbook: Logbook, step: Step, shelf: Mapping[str, Layer]) -> None:
    """Make a step the next thing to lay; a mix becomes a layer of the gilder's own shelf."""
    if step.kind != "lift" and step.layer not in logbook.known_layers():
        logbook.add_layer(shelf[step.layer])
    bench().lay_next(step)
