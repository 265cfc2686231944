"""Which gold to lay so that little toning is needed: leaf, bole and how far it is worn."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.errors import ShelfError
from tonematch.measure.colour.difference import USUAL_TOLERANCE, delta_e_2000
from tonematch.toning.core import Layer, Plan, Prediction, Step, Surface
from tonematch.toning.layers.leaf import Leaf, load_leaves
from tonematch.toning.layers.rules import check_layering, job_rules
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.optics.kubelka_munk import bands_to_lab, lab_to_bands, mix_by_area
from tonematch.toning.planning.body_colour import LaidLeaf, body_colour
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.objective import Objective
from tonematch.toning.planning.plan import best_plan
from tonematch.toning.planning.plan_words import worded
from tonematch.toning.planning.recipes import cost_after_one_layer

# Part of the leaf that may be worn through; more is no longer new gilding (choices, no source).
WEARS = (0.0, 0.05, 0.1, 0.2, 0.3)
MOST_CHOICES = 5
TWENTIETH = 0.05
LIKELY = 0.5  # chance from which nothing is said of how little is known
# Ways to lay it that are planned for in full, after a first look at one layer on each, and how
# widely each is searched.
PLANNED, BEAM = 8, 24
# How sure a reading on one grey card is, where nobody says: the same, rounded up from what the
# uncertainty budget gives for the old gold of the demonstration's photographs (2.4, 4.2, 7.6).
ON_ONE_CARD = (2.5, 4.5, 8.0)
# Beside a strip of leaf in one photograph only what the two do not share counts; rounded up.
IN_ONE_PHOTOGRAPH = (0.5, 0.5, 0.5)


@dataclass(frozen=True, eq=False)
class LeafChoice:
    """New gilding, and what would be left to tone.

    Attributes
    ----------
    bole : str
        A name in swatches/boles.toml.
    wear : float
        Part of the leaf to wear through to the bole, 0 to 1.
    before : Prediction
        What the new gilding should read: its body colour.
    plan : Plan
        The toning that is left; without steps where none is needed. Its cautions begin with
        those of wearing through, and its chance is known to a twentieth only.
    warned : bool
        Whether a rule of layering warns of wearing through this gilding.
    words : str
        One sentence.
    """

    leaf: Leaf
    bole: str
    wear: float
    before: Prediction
    plan: Plan
    warned: bool = False
    words: str = ""


def propose_leaf(
    workshop: Workshop,
    target: ArrayLike,
    target_covariance: ArrayLike,
    *,
    laid: LaidLeaf | None = None,
    leaves: Sequence[Leaf] | None = None,
    boles: Sequence[str] | None = None,
    wears: Sequence[float] = WEARS,
    tolerance: float = USUAL_TOLERANCE,
) -> tuple[LeafChoice, ...]:
    """New gilding from which a target is reached with little toning.

    Parameters
    ----------
    workshop : Workshop
        Its surface is what the new gold will be. Rubbing through is left out of its layers: the
        wear is chosen here.
    target : array_like, shape (3,)
        CIELAB (D50, 2 degree) of the old gilding.
    target_covariance : array_like, shape (3, 3)
        Of its reading: whole, or its own where `laid` was read in the same photograph.
    laid : LaidLeaf, optional
        Leaf that was read; without it the colour of new gold is a wide guess.
    boles : sequence of str, optional
        Names of those at hand; all that are known by default.
    wears : sequence of float
        Parts worn through that may be chosen, 0 to 1.

    Returns
    -------
    tuple of LeafChoice
        Up to five, no leaf worn to one bole twice, the likeliest to end within the tolerance
        first. Wearing through keeps to the rules of a rub: it is left out where they block it,
        and comes last where they warn of it.

    Raises
    ------
    ShelfError
        Where there is no leaf or no layer.
    """
    leaves = [leaf for leaf in load_leaves() if leaf.at_hand] if leaves is None else leaves
    known = load_boles()
    layers = [layer for layer in workshop.layers if layer.kind != "rub"]
    if not leaves or not layers:
        raise ShelfError("There is no leaf or no layer to choose from: put one on the shelf.")
    workshop = replace(workshop, layers=layers, beam=BEAM)
    boles_known = {bole: known[bole] for bole in boles or known}
    new = [(leaf, body_colour(leaf, laid)) for leaf in leaves]
    ways = list(_ways(new, boles_known, wears, workshop.surface))
    gap = Gap(
        ways[0].before.lab,
        np.asarray(target, dtype=np.float64),
        ways[0].before.covariance,
        np.asarray(target_covariance, dtype=np.float64),
        tolerance,
    )
    order = _best_of_each(ways, _after_one_layer(ways, gap, workshop))
    planned = [_planned(ways[i], gap, workshop) for i in order[:PLANNED]]
    return tuple(sorted(planned, key=lambda choice: _rank(choice, gap.target))[:MOST_CHOICES])


def _ways(
    new: Sequence[tuple[Leaf, Prediction]],
    boles: Mapping[str, Vector3],
    wears: Sequence[float],
    surface: Surface,
) -> Iterator[LeafChoice]:
    """Every way to lay the gold that the rules allow, not planned yet."""
    nothing = Plan((), 0.0, 0.0, 0.0)
    first = next(iter(boles))
    for bole, colour in boles.items():
        findings = check_layering(replace(surface, boles=(bole,)), [_wearing(bole)])
        blocked = any(finding.severity == "blocked" for finding in findings)
        warned = any("rub" in f.rule.laid.kind and f.rule.surface.technique for f in findings)
        for (leaf, gold), wear in product(new, wears):
            if wear > 0.0 and not blocked:
                worn_gold = replace(gold, lab=worn(gold.lab, colour, wear))
                yield LeafChoice(leaf, bole, wear, worn_gold, nothing, warned)
            elif wear == 0.0 and bole == first:
                # Beneath leaf that is not worn the bole cannot be seen: one stands for all.
                yield LeafChoice(leaf, bole, wear, gold, nothing)


def spread_of(deviations: Sequence[float]) -> Matrix3:
    """The covariance of a colour whose L*, a*, b* have these standard uncertainties."""
    return np.diag(np.square(np.asarray(deviations, dtype=np.float64)))


def say_doubt(choices: Sequence[LeafChoice]) -> str:
    """Why no way is likely to end within the tolerance, and what to do; empty where one is."""
    if any(choice.plan.chance >= LIKELY for choice in choices):
        return ""
    return (
        "No way is likelier than not to come near enough: too little is known of the old gold, and "
        "of new gold. Gild strips of the first ways and compare each with the old gold in one "
        "photograph: that tells far more."
    )


def worn(leaf: Vector3, bole: Vector3, wear: float) -> Vector3:
    """CIELAB of leaf that is worn through to its bole over a part of the area, 0 to 1.

    The plain mean of reflectances by area: sound leaf of 100 nm lets no bole through (Wu et al.
    2020, Heritage Science); by thin-film optics bole starts to show below about 60 nm.
    """
    bands = mix_by_area(lab_to_bands(leaf), lab_to_bands(bole), np.array(wear), np.array(1.0))
    return bands_to_lab(bands)


def _after_one_layer(ways: Sequence[LeafChoice], gap: Gap, workshop: Workshop) -> Array:
    """Cost of each way when the best single layer, or none, is laid on it; rough, shape (n,)."""
    objective = Objective(gap.target, gap.target_covariance)
    before = np.array([way.before.lab for way in ways])
    unread = np.array([way.before.covariance for way in ways])
    toned = [
        cost_after_one_layer(workshop.model, layer, before, unread, workshop.surface, objective)
        for layer in workshop.layers
    ]
    bare = objective.rough_costs(before, unread)
    return np.asarray(np.minimum(bare, np.min(toned, axis=0) + objective.prices.layer))


def _best_of_each(ways: Sequence[LeafChoice], cost: Array) -> list[int]:
    """Indices of the ways in the order in which to plan them: one for each leaf and bole seen."""
    seen: set[tuple[str, str]] = set()
    kept = []
    for i in sorted(range(len(ways)), key=lambda i: (ways[i].warned, cost[i])):
        pair = (ways[i].leaf.name, ways[i].bole if ways[i].wear > 0.0 else "")
        if pair not in seen:
            seen.add(pair)
            kept.append(i)
    return kept


def _planned(way: LeafChoice, gap: Gap, workshop: Workshop) -> LeafChoice:
    new = replace(workshop.surface, boles=(way.bole,), leaf=way.leaf.name)
    said: tuple[str, ...] = ()
    if way.wear > 0.0:
        rub = _wearing(way.bole)
        step = Step(rub.name, "rub", way.wear, 1, _end(way))
        labs = [way.before.lab, way.before.lab]
        (worn,) = worded([step], [rub], labs, gap.target, new)
        said = (*worn.cautions, *(rule.reason for rule in job_rules(rub)))
        new = replace(new, beneath=(*new.beneath, rub))
    gap = replace(gap, before=way.before.lab, before_covariance=way.before.covariance)
    plan = best_plan(gap, replace(workshop, surface=new))
    cautions = tuple(dict.fromkeys([*said, *plan.cautions]))
    chance, read = _coarse(plan.chance), _coarse(plan.chance_read)
    plan = replace(plan, cautions=cautions, chance=chance, chance_read=read)
    return replace(way, plan=plan, words=_say(way, plan))


def _end(way: LeafChoice) -> Prediction:
    """What the gold reads once it is toned; new gold where nothing is planned on it."""
    steps = way.plan.steps
    return steps[-1].prediction if steps else way.before


def _coarse(chance: float) -> float:
    """A chance to a twentieth, and never certain: no finer can be known of gold not laid yet."""
    return chance if chance < 0.5 * TWENTIETH else min(round(chance / TWENTIETH), 19) * TWENTIETH


def _rank(choice: LeafChoice, target: Vector3) -> tuple[bool, float, int, float]:
    """The likeliest first, as it is printed; of equals what is least to do, then the nearest.

    What a rule warns of, and nobody can undo, comes after all else.
    """
    work = len(choice.plan.steps) + (choice.wear > 0.0)
    return choice.warned, -choice.plan.chance, work, float(delta_e_2000(_end(choice).lab, target))


def _wearing(bole: str) -> Layer:
    """Wearing through as the rules see it: a rub."""
    return Layer(
        f"wearing through to {bole}",
        "rub",
        binder="none",
        solvent="dry",
        beneath=bole,
        reversible="not reversible",
    )


def _say(way: LeafChoice, plan: Plan) -> str:
    laid = f"Lay {way.leaf.name} leaf"
    if way.wear > 0.0:
        laid += f" over {way.bole} and wear about {100 * way.wear:.0f} % of it through"
        laid += ", of which a rule of layering warns" if way.warned else ""
    count = len(plan.steps)
    toned = f"with {count} toning layer{'s' if count > 1 else ''}" if count else "without toning"
    return f"{laid}, {toned}."
