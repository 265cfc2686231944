"""What a plan is for, and what it is made with: the gap to close, and the workshop that closes it.

How sure the two colours of a gap are is chosen here and nowhere else, and so is how far a plan may
go: every face that plans makes a `Gap` and a `Workshop`, and hands them to `plan_for`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.errors import ValueRefused
from tonematch.measure.colour.convert import check_lab
from tonematch.measure.colour.difference import USUAL_TOLERANCE, check_tolerance
from tonematch.measure.core import Comparison
from tonematch.toning.core import Layer, Surface
from tonematch.toning.model.lustre import LustreModel
from tonematch.toning.model.lustre_law import MOST_LUSTRE
from tonematch.toning.planning.recipes import LayerPredictor

MOST_LAYERS = 6  # on a piece; the plan is made anew after each
MOST_PLANNED = 4  # in one plan, which is as good as more


@dataclass(frozen=True, eq=False)
class Gap:
    """From what a surface reads now to what it should read.

    Attributes
    ----------
    before, target : ndarray, shape (3,)
        CIELAB (D50, 2 degree).
    before_covariance, target_covariance : ndarray, shape (3, 3)
        Of the two readings.
    tolerance : float
        Greatest CIEDE2000 that counts as a match, above 0.
    lustres : tuple of two float, or None
        Of the surface and of the target in stops, where both were measured: plans then say where
        they leave it.

    Raises
    ------
    ValueRefused
        For a colour, a tolerance or a lustre out of range.
    """

    before: Vector3
    target: Vector3
    before_covariance: Matrix3
    target_covariance: Matrix3
    tolerance: float = USUAL_TOLERANCE
    lustres: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        for colour, what in (("before", "surface"), ("target", "target")):
            object.__setattr__(self, colour, check_lab(what, getattr(self, colour)))
        check_tolerance(self.tolerance)
        for stops, what in zip(self.lustres or (), ("surface", "target"), strict=False):
            if not 0.0 <= stops <= MOST_LUSTRE:
                raise ValueRefused(
                    f"A lustre of {stops:g} stops for the {what} cannot be used: give a number "
                    f"from 0 to {MOST_LUSTRE:g}."
                )


class WorkshopModel(LayerPredictor, Protocol):
    """What a plan asks of a layer model; a fitted LayerModel has it."""

    def freedom_of(self, layer: Layer) -> float:
        """Degrees of freedom of what is predicted of a layer, above 2."""

    @property
    def tried(self) -> frozenset[str]:
        """Names of the layers that it has trials of."""

    @property
    def reading_covariance_(self) -> Array:
        """Covariance of a reading's own noise, shape (3, 3)."""


@dataclass(frozen=True, eq=False)
class Workshop:
    """What plans are made with.

    Attributes
    ----------
    model : WorkshopModel
        A fitted LayerModel. By its trials a plan with another layer says so, and what cannot be
        undone is never proposed first untried.
    layers : sequence of Layer
        What may be used; every one that is given counts as at hand.
    surface : Surface
        What they are laid on; nothing is known of it by default.
    lustre : LustreModel or None
        Where plans shall say the lustre.
    most_layers : int
        Of a plan, 1 to 4; on the piece lie six at most.
    beam : int
        Recipes that the search keeps at each depth, at least 1.

    Raises
    ------
    ValueRefused
        For a number of layers out of range.
    """

    model: WorkshopModel
    layers: Sequence[Layer]
    surface: Surface = field(default_factory=Surface)
    lustre: LustreModel | None = None
    most_layers: int = 3
    beam: int = 96

    def __post_init__(self) -> None:
        if self.most_layers not in range(1, MOST_PLANNED + 1):
            raise ValueRefused(
                f"A plan of {self.most_layers} layers cannot be searched: choose from 1 to "
                f"{MOST_PLANNED}."
            )


def gap_of(comparison: Comparison) -> Gap:
    """The gap between a repair and its original that were read from the same light.

    Of each reading counts what is its own: an error that both share (of the card, of the camera)
    moves surface and target alike, and changes no plan.
    """
    repair, original = comparison.repair, comparison.original
    lustres = None
    if repair.lustre is not None and original.lustre is not None:
        lustres = repair.lustre, original.lustre
    return Gap(
        repair.lab,
        original.lab,
        repair.own_covariance,
        original.own_covariance,
        comparison.tolerance,
        lustres,
    )


def typed_gap(
    before: Vector3,
    target: Vector3,
    model: WorkshopModel,
    tolerance: float = USUAL_TOLERANCE,
) -> Gap:
    """The gap between two colours that came without their covariance.

    They are taken to be as sure as the readings of the trials, for so they were most likely read.
    """
    noise = model.reading_covariance_
    return Gap(before, target, noise, noise, tolerance)
