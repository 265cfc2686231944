"""Body colours of leaf: what it reads with the lamps at its sides, where repairs are read.

The entry of a leaf holds its colour in the mirror direction (swatches/leaves.toml), in which no
photograph for a reading is taken. Beside it the same metal sends less of the same light, and how
much less depends on burnish and relief: it is guessed, widely, or told by a strip of leaf that was
read. From that strip other leaf departs, band by band, as it does in the mirror direction.
"""

from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Matrix3, Vector3
from tonematch.measure.core import REACH_95
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Prediction
from tonematch.toning.layers.shelf import Leaf
from tonematch.toning.model.chain import UNREAD
from tonematch.toning.optics.kubelka_munk import bands_to_lab, lab_to_bands

_STEP = 1e-3


@dataclass(frozen=True, eq=False)
class LaidLeaf:
    """A strip of leaf as it reads (CIELAB, D50), best in one photograph with the old gold.

    Of a reading in that photograph the covariance is its own.
    """

    leaf: Leaf
    lab: Vector3
    covariance: Matrix3


def body_colour(leaf: Leaf, laid: LaidLeaf | None = None) -> Prediction:
    """What new gold of a leaf should read, by leaf of any kind that was read.

    Without one its lightness is the wide guess of ``leaves.toml``.
    """
    light = lab_to_bands(leaf.mirror)
    if laid is None:
        guess = swatch_table("leaves.toml")["body"]
        shares = guess["share"] * np.exp([[-_STEP], [0.0], [_STEP]])
        darker, lab, lighter = bands_to_lab(shares * light)
        error = guess["spread"] * (lighter - darker) / (2.0 * _STEP)
        return Prediction(lab, np.outer(error, error) + UNREAD**2 * np.eye(3))
    if leaf.name == laid.leaf.name:
        return Prediction(laid.lab, laid.covariance)
    lab = bands_to_lab(lab_to_bands(laid.lab) * light / lab_to_bands(laid.leaf.mirror))
    return Prediction(lab, laid.covariance + UNREAD**2 * np.eye(3))


def say_body(laid: LaidLeaf | None) -> str:
    """From where the colours of new gold are, and what to do."""
    if laid is not None:
        return (
            f"New gold is told from your strip of {laid.leaf.name} leaf, and what other leaf "
            "differs from it by in the mirror direction; bole is a usual colour, not yours."
        )
    guess = swatch_table("leaves.toml")["body"]
    share, wide = guess["share"], np.exp(REACH_95 * guess["spread"])
    return (
        "New gold is told as body colour, with the lamps at its sides. Nobody has read yours: it "
        f"is guessed to send {share:g} of the light of the mirror direction ({share / wide:.2g} to "
        f"{share * wide:.2g}, 95 %). Gild a strip, and read it in one photograph with the old gold "
        "first."
    )
