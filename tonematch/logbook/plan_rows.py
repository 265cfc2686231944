"""Between proposed plans and the rows of their tables."""

from tonematch.logbook.cells import decoding, numbers, word_of
from tonematch.logbook.core import KeptProposal
from tonematch.logbook.rows import plain_list, plain_lists
from tonematch.logbook.tables import PlanRow, ProposalRow, StepRow
from tonematch.toning.core import Kind, Plan, Prediction, Proposal, Step


def proposal_row(proposal: Proposal, piece_id: int, comparison_id: int | None) -> ProposalRow:
    """The row for a proposal, with its plans and their steps."""
    return ProposalRow(
        piece_id=piece_id,
        comparison_id=comparison_id,
        before=plain_list(proposal.before),
        target=plain_list(proposal.target),
        tolerance=float(proposal.tolerance),
        missing=proposal.missing,
        notes=list(proposal.notes),
        plans=[_plan_row(position, plan) for position, plan in enumerate(proposal.plans)],
    )


def _plan_row(position: int, plan: Plan) -> PlanRow:
    return PlanRow(
        position=position,
        delta_e=float(plan.delta_e),
        chance=float(plan.chance),
        cautions=list(plan.cautions),
        words=plan.words,
        steps=[
            StepRow(
                position=number,
                layer=step.layer,
                kind=step.kind,
                strength=float(step.strength),
                coats=step.coats,
                lab=plain_list(step.prediction.lab),
                covariance=plain_lists(step.prediction.covariance),
            )
            for number, step in enumerate(plan.steps)
        ],
    )


@decoding
def proposal_of(row: ProposalRow) -> KeptProposal:
    """The proposal that a row tells of."""
    proposal = Proposal(
        plans=tuple(map(_plan_of, row.plans)),
        before=numbers(row.before, 3),
        target=numbers(row.target, 3),
        tolerance=row.tolerance,
        missing=row.missing,
        notes=tuple(row.notes),
    )
    return KeptProposal(row.id, proposal, row.comparison_id, row.made_at)


def _plan_of(row: PlanRow) -> Plan:
    steps = tuple(
        Step(
            layer=step.layer,
            kind=word_of(step.kind, Kind),
            strength=step.strength,
            coats=step.coats,
            prediction=Prediction(numbers(step.lab, 3), numbers(step.covariance, 3, 3)),
        )
        for step in row.steps
    )
    return Plan(steps, row.delta_e, row.chance, tuple(row.cautions), row.words)
