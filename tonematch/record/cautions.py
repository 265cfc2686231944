"""A card to print and hang up: what holds for the whole job."""

from tonematch.record.page import page
from tonematch.toning.layers.rule_table import load_job_cautions


def cautions_card() -> str:
    """The card as HTML that prints on half a page of A4."""
    return page("cautions.html.jinja", cautions=load_job_cautions())
