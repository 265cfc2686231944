"""A plan as a card: its picture, how sure it is, what to lay and mind, and one button."""

from collections.abc import Sequence

import streamlit as st

from tonematch.in_words import say_in_numbers, say_lab
from tonematch.measure.words import capital
from tonematch.screens.sections.painted import Brush, show_end, show_painted
from tonematch.screens.session import LastLayer
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.swatch import COLORIMETRY, in_numbers, show_swatches
from tonematch.toning.core import Plan, Proposal
from tonematch.toning.planning.choice import is_offered
from tonematch.toning.planning.plan_words import say_to_lay
from tonematch.toning.planning.telling import PlanTeller, plan_name
from tonematch.toning.validation.lessons import surprise

TO_LEARN = "Not a plan, for it seldom gets there: it comes off again, and tells what yours does."
ONLY_NEARER = "Not a plan to lay: it would bring the repair nearer, and not there."


def show_plan(
    number: int, plan: Plan, proposal: Proposal, teller: PlanTeller, brush: Brush | None
) -> bool:
    """A plan that lays something; True when its first step is to be laid.

    The button stands below the first step, since the plan is made anew after it.
    """
    name = plan_name(number, plan, proposal.missing)
    with st.container(border=True):
        kind = plan.words[:1].lower() + plan.words[1:].rstrip(".")
        title = ", ".join(filter(None, [name, plan.virtue]))
        st.subheader(f"{title}: {plain(kind)}", anchor=False)
        chance = f"{capital(teller.chance(plan))}."
        if is_offered(plan):
            st.write(f"**{chance}**")
        else:
            st.write(f"{ONLY_NEARER if proposal.missing else TO_LEARN} {chance}")
        if brush is not None:
            if number == 1 and is_offered(plan):
                show_painted(brush, plan, number)
            else:
                show_end(brush, plan, number)
        (first, minded), *rest = teller.steps(f"plan {number}", plan)
        show_step(1, first, minded)
        pressed = _button(number, plan, proposal)
        for place, (said, mind) in enumerate(rest, start=2):
            show_step(place, said, mind)
        for caution in plan.cautions:
            st.write(plain(caution))
        with in_numbers():
            _show_numbers(plan, proposal)
    return pressed


def show_step(place: int, said: str, mind: Sequence[str]) -> None:
    """What to do in a step, and beneath it what to mind."""
    cautions = "".join(f"\n   - {plain(caution)}" for caution in mind)
    st.markdown(f"{place}. {plain(said)}{cautions}")


def _button(number: int, plan: Plan, proposal: Proposal) -> bool:
    """Lay the first step; where no plan gets there, one to learn from, or to take back."""
    step, offered = plan.steps[0], is_offered(plan)
    if proposal.missing and not offered and step.kind != "lift":
        return False
    # Held by the step: what was pressed is laid, though the logbook was added to elsewhere.
    return st.button(
        f"{'Lay' if offered else 'To learn'}: {plain(say_to_lay(step))}",
        key=f"lay-{number}-{step.layer}-{step.strength:g}-{step.coats}",
        type="primary" if offered else "secondary",
        width="stretch",
    )


def _show_numbers(plan: Plan, proposal: Proposal) -> None:
    st.write(plain(f"{capital(say_in_numbers(plan))}."))
    for step in plan.steps:
        should = say_lab(step.prediction.lab, step.prediction.covariance)
        show_swatches([("Original", proposal.target), ("Then", step.prediction.lab)], small=True)
        st.caption(plain(f"{capital(say_to_lay(step))} should read {should}."))
    st.caption(COLORIMETRY)


def show_last_layer(last: LastLayer | None) -> None:
    """What the last layer was expected to do beside what it did."""
    if last is None:
        return
    expected, got = last.prediction, last.trial.after
    with st.expander(f"{plain(capital(last.trial.application.layer))}. {surprise(expected, got)}"):
        show_swatches([("Expected", expected.lab), ("Got", got)], small=True)
        st.write(plain(last.lesson))
        with in_numbers():
            st.write(f"Expected {say_lab(expected.lab, expected.covariance)}; got {say_lab(got)}.")
