"""Which gold to lay so that little toning is needed: leaf, bole and how far it is worn."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.errors import ShelfError
from tonematch.measure.colour.difference import USUAL_TOLERANCE
from tonematch.swatchbook import read_toml, swatch_path
from tonematch.toning.core import Layer, Plan, Surface, Vector3
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.optics.kubelka_munk import bands_to_lab, lab_to_bands, mix_by_area
from tonematch.toning.planning.objective import Aim, Prices
from tonematch.toning.planning.plan import propose
from tonematch.toning.planning.recipes import LayerPredictor, options_of

Array = NDArray[np.float64]

# Part of the leaf that may be worn through; more is no longer new gilding (choices, no source).
WEARS = (0.0, 0.05, 0.1, 0.2, 0.3)
MOST_CHOICES = 5
# Ways to lay it that are planned for in full, after a first look at one layer on each.
PLANNED = 8
# How sure the colour of leaf that nobody has read yet is: standard deviation of L*, a*, b*.
UNREAD = 1.5


@dataclass(frozen=True, eq=False)
class Leaf:
    """Leaf to lay.

    Attributes
    ----------
    name : str
    lab : ndarray, shape (3,)
        CIELAB (D50, 2 degree), burnished.
    cautions : tuple of str
    source : str
    """

    name: str
    lab: Vector3
    cautions: tuple[str, ...] = ()
    source: str = ""


@dataclass(frozen=True, eq=False)
class LeafChoice:
    """New gilding, and what would be left to tone.

    Attributes
    ----------
    leaf : Leaf
    bole : str
        A name in swatches/boles.toml.
    wear : float
        Part of the leaf to wear through to the bole, 0 to 1.
    before : ndarray, shape (3,)
        CIELAB that the new gilding should read.
    plan : Plan
        The toning that is left; without steps where none is needed.
    cost : float
        Expected CIEDE2000 at the end, and the price of each layer.
    words : str
        One sentence.
    """

    leaf: Leaf
    bole: str
    wear: float
    before: Vector3
    plan: Plan
    cost: float
    words: str


def load_leaves(path: Path | None = None) -> tuple[Leaf, ...]:
    """Leaf that can be laid.

    Parameters
    ----------
    path : pathlib.Path, optional
        A TOML file of ``[[leaf]]`` tables; the leaf that ships with tonematch by default.

    Returns
    -------
    tuple of Leaf

    Raises
    ------
    ShelfError
        When the file cannot be read, or an entry has no name or no colour.
    """
    path = swatch_path("leaves.toml") if path is None else path
    try:
        entries = read_toml(path)["leaf"]
        return tuple(
            Leaf(
                str(entry["name"]),
                _colour(entry["lab"]),
                tuple(map(str, entry.get("cautions", ()))),
                str(entry.get("source", "")),
            )
            for entry in entries
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ShelfError(
            f"{path.name} is no table of leaf: give every [[leaf]] a name and "
            "lab = [L*, a*, b*], L* from 0 to 100."
        ) from error


def propose_leaf(
    model: LayerPredictor,
    layers: Sequence[Layer],
    target: ArrayLike,
    *,
    leaves: Sequence[Leaf] | None = None,
    boles: Sequence[str] | None = None,
    wears: Sequence[float] = WEARS,
    tolerance: float = USUAL_TOLERANCE,
    surface: Surface | None = None,
) -> tuple[LeafChoice, ...]:
    """New gilding from which a target is reached with little toning.

    Parameters
    ----------
    model : LayerPredictor
        A fitted LayerModel.
    layers : sequence of Layer
        What may be laid on it. Rubbing through is left out: the wear is chosen here.
    target : array_like, shape (3,)
        CIELAB (D50, 2 degree) of the old gilding.
    leaves : sequence of Leaf, optional
    boles : sequence of str, optional
        Names of those at hand; all that are known by default.
    wears : sequence of float
        Parts worn through that may be chosen, 0 to 1.
    tolerance : float
    surface : Surface, optional

    Returns
    -------
    tuple of LeafChoice
        Up to five, no leaf over one bole twice, that which asks for least first.

    Raises
    ------
    ShelfError
        Where there is no leaf or no layer, or a bole is not known.
    """
    leaves = load_leaves() if leaves is None else leaves
    known = load_boles()
    for bole in boles or ():
        if bole not in known:
            raise ShelfError(f"No bole {bole!r} is known: choose one of {', '.join(known)}.")
    toning = [layer for layer in layers if layer.kind != "rub"]
    if not leaves or not toning:
        raise ShelfError("There is no leaf or no layer to choose from: put one on the shelf.")
    surface = surface or Surface()
    nothing = Plan((), 0.0, 0.0)
    ways = [
        LeafChoice(leaf, bole, wear, worn(leaf.lab, known[bole], wear), nothing, 0.0, "")
        for leaf in leaves
        for bole in boles or known
        # Beneath leaf that is not worn the bole cannot be seen: one stands for all.
        for wear in (wears if bole == next(iter(boles or known)) else wears[1:])
    ]
    goal = np.asarray(target, dtype=np.float64)
    first = _after_one_layer(model, toning, ways, goal, surface)
    order = _best_of_each(ways, first)
    planned = [_planned(model, toning, ways[i], goal, tolerance, surface) for i in order[:PLANNED]]
    return tuple(sorted(planned, key=lambda choice: choice.cost)[:MOST_CHOICES])


def worn(leaf: Vector3, bole: Vector3, wear: float) -> Vector3:
    """CIELAB of leaf that is worn through to its bole over a part of the area.

    Parameters
    ----------
    leaf, bole : ndarray, shape (3,)
    wear : float
        0 to 1.

    Returns
    -------
    ndarray, shape (3,)
        The plain mean of reflectances by area: sound leaf of 100 nm lets no bole through (Wu et
        al. 2020, Heritage Science).
    """
    bands = mix_by_area(lab_to_bands(leaf), lab_to_bands(bole), np.array(wear), np.array(1.0))
    return bands_to_lab(bands)


def _after_one_layer(
    model: LayerPredictor,
    layers: Sequence[Layer],
    ways: Sequence[LeafChoice],
    target: Vector3,
    surface: Surface,
) -> Array:
    """Cost of each way when the best single layer, or none, is laid on it; rough, shape (n,)."""
    aim = Aim(target, np.zeros((3, 3)))
    n = len(ways)
    before = np.array([way.before for way in ways])
    unread = np.repeat(UNREAD**2 * np.eye(3)[None], n, axis=0)
    best = aim.rough_costs(before, unread)
    for layer in layers:
        options = options_of([layer])
        m = len(options)
        lab, covariance = model.predict_many(
            layer.name,
            layer.kind,
            np.repeat(before, m, axis=0),
            np.repeat(unread, m, axis=0),
            np.tile([option.strength for option in options], n),
            np.tile([float(option.coats) for option in options], n),
            surface.technique,
            surface.finish,
        )
        cost = aim.rough_costs(lab, covariance).reshape(n, m).min(axis=1) + aim.prices.layer
        best = np.minimum(best, cost)
    return best


def _best_of_each(ways: Sequence[LeafChoice], cost: Array) -> list[int]:
    """Indices of the ways, the cheapest first, one for each leaf over each bole."""
    seen: set[tuple[str, str]] = set()
    kept = []
    for i in map(int, np.argsort(cost, kind="stable")):
        pair = (ways[i].leaf.name, ways[i].bole)
        if pair not in seen:
            seen.add(pair)
            kept.append(i)
    return kept


def _planned(
    model: LayerPredictor,
    layers: Sequence[Layer],
    way: LeafChoice,
    target: Vector3,
    tolerance: float,
    surface: Surface,
) -> LeafChoice:
    plan = propose(
        model,
        layers,
        way.before,
        target,
        tolerance=tolerance,
        before_covariance=UNREAD**2 * np.eye(3),
        surface=surface,
        beam=24,
    ).plans[0]
    cost = plan.delta_e + Prices().layer * len(plan.steps)
    return LeafChoice(way.leaf, way.bole, way.wear, way.before, plan, cost, _say(way, plan))


def _say(way: LeafChoice, plan: Plan) -> str:
    laid = f"Lay {way.leaf.name} leaf"
    if way.wear > 0.0:
        laid += f" over {way.bole} and wear about {100 * way.wear:.0f} % of it through"
    count = len(plan.steps)
    toned = f"with {count} toning layer{'s' if count > 1 else ''}" if count else "without toning"
    return f"{laid}: expected CIEDE2000 {plan.delta_e:.1f} {toned}."


def _colour(lab: object) -> Vector3:
    value = np.array(lab, dtype=np.float64)
    if value.shape != (3,) or not np.isfinite(value).all() or not 0.0 <= value[0] <= 100.0:
        raise ValueError(lab)
    return value
