"""Plan: layers in order, what each should do, and the chance of landing within tolerance."""

from collections.abc import Mapping, Sequence

import streamlit as st

from tonematch.in_words import say_in_numbers, say_lab, say_what_chance
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.measure.words import capital
from tonematch.screens.asking.surface import ask_surface
from tonematch.screens.keeping import (
    current_piece,
    invented_pieces,
    is_invented,
    keep_comparison,
    keep_proposal,
    known_layers,
)
from tonematch.screens.planning import proposed, useful_mixes
from tonematch.screens.sections.cautions import show_job_cautions
from tonematch.screens.sections.leaf import show_leaf
from tonematch.screens.sections.painted import Brush, scene_on_bench, show_painted
from tonematch.screens.sections.strips import offer_strips
from tonematch.screens.session import LastLayer, bench, go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.plain_numbers import say_trials
from tonematch.screens.showing.ruler import ruler_html
from tonematch.screens.showing.swatch import COLORIMETRY, show_swatches
from tonematch.toning.core import Layer, Plan, Proposal, Step, Surface, Trial
from tonematch.toning.layers.mix import LEAST_POT, MOST_POT, USUAL_POT
from tonematch.toning.layers.taking_back import lifts_on
from tonematch.toning.planning.gap import gap_of
from tonematch.toning.planning.plan_words import say_to_lay
from tonematch.toning.planning.telling import PlanTeller
from tonematch.toning.validation.lessons import surprise

PAGE_NOTE = (
    "A plan is a proposal, not a promise: try it on a strip with the same ground, bole, leaf and "
    "burnish first. Follow the maker's data sheet and local rules; an old or rare piece goes to "
    "an accredited conservator."
)


def plan_page(logbook: Logbook) -> None:
    """The page that proposes plans for the latest comparison."""
    st.header("Plan", anchor=False)
    piece = current_piece(logbook)
    gap = bench().comparison
    original = bench().original
    if piece is not None and gap is None and original is not None:
        show_leaf(logbook, piece, original)
        return
    if piece is None or gap is None:
        st.info(
            "A plan needs a comparison: photograph the piece and mark the areas first.",
            icon=":material/info:",
        )
        return
    keep_comparison(logbook, piece)
    shelf = known_layers(logbook)
    trials = logbook.trials()
    pieces = invented_pieces(logbook)
    invented = sum(is_invented(trial, pieces) for trial in trials)
    surface = ask_surface(logbook, piece, shelf)
    mixed = _ask_mixes(trials, shelf, surface, gap)
    proposal = proposed(trials, shelf, surface, gap_of(gap), with_mixed=bool(mixed))
    keep_proposal(logbook, piece, proposal)
    last = bench().last
    if last is not None:
        _show_last_layer(last)
    show_swatches([("Original", proposal.target), ("Repair now", proposal.before)], small=True)
    st.html(ruler_html(gap, small=True))
    st.write(f"Planned from {say_trials(len(trials), invented)}.")
    for note in proposal.notes:
        st.info(plain(note), icon=":material/info:")
    if proposal.missing:
        st.warning(plain(proposal.missing), icon=":material/warning:")
    if not trials:  # they come first, as the notes say
        offer_strips(logbook, piece, gap, trials, shelf)
    pot = _ask_pot()
    lays = any(plan.steps for plan in proposal.plans)
    scene = scene_on_bench(logbook, gap) if lays else None
    known = {**shelf, **mixed} | {lift.name: lift for lift, _ in lifts_on(surface)}
    model = useful_mixes(trials, shelf, surface, gap.repair.lab, gap.original.lab)[0]
    brush = None if scene is None else Brush(scene, model, known, surface)
    for number, plan in enumerate(proposal.plans, start=1):
        title = f"Plan {number}: {plain(plan.words)}"
        with st.container(border=True) if number == 1 else st.expander(title):
            teller = PlanTeller(known, surface, pot)
            _show_plan(logbook, number, plan, proposal, teller, brush)
    if proposal.plans[0].steps:
        st.caption(plain(say_what_chance(proposal.tolerance)))
    show_job_cautions()
    st.caption(f"{PAGE_NOTE} {COLORIMETRY}")
    if trials:
        offer_strips(logbook, piece, gap, trials, shelf)


def _ask_mixes(
    trials: Sequence[Trial], shelf: Mapping[str, Layer], surface: Surface, gap: Comparison
) -> dict[str, Layer]:
    """Mixes by name, where two layers in one pot come nearer than either and are wanted."""
    _, mixes = useful_mixes(trials, shelf, surface, gap.repair.lab, gap.original.lab)
    if not mixes or not st.checkbox("Plan with two washes or glazes mixed in one pot as well"):
        return {}
    return {mix.name: mix for mix in mixes}


def _show_last_layer(last: LastLayer) -> None:
    """What the last layer was expected to do beside what it did."""
    expected, got = last.prediction.lab, last.trial.after
    with st.container(border=True):
        st.subheader(f"The last layer: {plain(last.trial.application.layer)}", anchor=False)
        show_swatches([("Expected", expected), ("Got", got)], small=True)
        st.write(plain(f"{surprise(last.prediction, got)} {last.lesson}"))


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


def _show_plan(
    logbook: Logbook,
    number: int,
    plan: Plan,
    proposal: Proposal,
    teller: PlanTeller,
    brush: Brush | None,
) -> None:
    st.subheader(f"Plan {number}", anchor=False)
    st.write(plain(plan.words))
    if plan.steps:
        st.write(f"**{capital(teller.chance(plan))}.**")
    if plan.steps and brush is not None:
        show_painted(brush, plan, number)
    for place, (said, mind) in enumerate(teller.steps(f"plan {number}", plan), start=1):
        cautions = "".join(f"\n   - {plain(caution)}" for caution in mind)
        st.markdown(f"{place}. {plain(said)}{cautions}")
    for caution in plan.cautions:
        st.write(plain(caution))
    if not plan.steps:
        return
    show_swatches(
        [("Original", proposal.target), ("At the end", plan.steps[-1].prediction.lab)], small=True
    )
    with st.expander("In numbers, for specialists"):
        st.write(plain(f"{capital(say_in_numbers(plan))}."))
        for step in plan.steps:
            should = say_lab(step.prediction.lab, step.prediction.covariance)
            show_swatches(
                [("Original", proposal.target), ("Then", step.prediction.lab)], small=True
            )
            st.caption(plain(f"{capital(say_to_lay(step))} should read {should}."))
    step = plan.steps[0]
    # Held by the step: what was pressed is laid, though the logbook was added to elsewhere.
    key = f"lay-{number}-{step.layer}-{step.strength:g}-{step.coats}"
    label = f"Lay: {plain(say_to_lay(step))}"
    if st.button(label, key=key, type="primary", width="stretch"):
        _take_up(logbook, step, teller.layers)
        go_to("Lay a layer")


def _take_up(logbook: Logbook, step: Step, shelf: Mapping[str, Layer]) -> None:
    """Make a step the next thing to lay; a mix becomes a layer of the gilder's own shelf."""
    if step.kind != "lift" and step.layer not in known_layers(logbook):
        logbook.add_layer(shelf[step.layer])
    bench().lay_next(step)
