"""Where everything lies on a sheet of test strips, in millimetres, for printing and for reading.

The sheet has a black frame, whose corners are marked in the photograph. A strip is a row of fields:
the first stays bare, and each layer covers all fields from its own to the last, so that one
photograph shows every step of a stack. Strips of one layer lie three to a row, in their midst the
grey card, where the light is nearest to that of all; a stack takes a row of its own.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from tonematch.errors import ValueRefused
from tonematch.toning.core import MOST_STRIPS, Strip

Rectangle = tuple[float, float, float, float]

ACROSS = 3
MOST_ROWS = (MOST_STRIPS + 1) // ACROSS
# A4 (ISO 216) with what a printer cannot print left free.
PAGE = (210.0, 297.0)
FRAME: Rectangle = (12.0, 12.0, 186.0, 273.0)
TITLE_HEIGHT, LABEL_HEIGHT = 12.0, 11.0
GAP = 2.5
# Of each part of a strip, what is left out at every side: brush marks, edges, shadows.
INSET = 0.2


@dataclass(frozen=True)
class StripLayout:
    """A sheet for some strips.

    Attributes
    ----------
    layers : tuple of int
        How many are laid and read on each strip, in order.

    Raises
    ------
    ValueRefused
        For no strips, or more than one photograph can read.
    """

    layers: tuple[int, ...]

    def __post_init__(self) -> None:
        if not self.layers or self.rows > MOST_ROWS:
            raise ValueRefused(
                f"A sheet of {len(self.layers)} strips cannot be read in one photograph: print "
                f"sheets of 1 to {MOST_STRIPS}, a stack counting as three."
            )

    @classmethod
    def of(cls, strips: Sequence[Strip]) -> "StripLayout":
        """The sheet for these strips, in this order."""
        return cls(tuple(len(strip.steps) for strip in strips))

    @property
    def rows(self) -> int:
        """Rows of cells that are in use."""
        return self._stacks + self._single_rows

    @property
    def card(self) -> Rectangle:
        """Place of the grey card: x, y, width, height from the sheet's upper left corner."""
        return self._place(self._card_row, ACROSS // 2)

    @cached_property
    def strips(self) -> tuple[Rectangle, ...]:
        """Places of the strips in order: half of the stacks, then single strips, then the rest."""
        above, below = self._above, self._above + self._single_rows
        rows = iter([*range(above), *range(below, self.rows)])
        cells = iter(
            (row, column)
            for row in range(above, below)
            for column in range(ACROSS)
            if (row, column) != (self._card_row, ACROSS // 2)
        )
        return tuple(
            self._place(*next(cells)) if layers == 1 else self._place(next(rows), 0, ACROSS)
            for layers in self.layers
        )

    def fields(self, strip: int) -> tuple[Rectangle, ...]:
        """The bare field of a strip (from 0), then one for each layer, the last with them all."""
        x, y, w, h = self.strips[strip]
        wide = w / (self.layers[strip] + 1)
        return tuple((x + n * wide, y, wide, h) for n in range(self.layers[strip] + 1))

    @property
    def _stacks(self) -> int:
        return sum(layers > 1 for layers in self.layers)

    @property
    def _above(self) -> int:
        return (self._stacks + 1) // 2

    @property
    def _single_rows(self) -> int:
        singles = len(self.layers) - self._stacks
        return max(math.ceil((singles + 1) / ACROSS), 1 if self._stacks else 3)

    @property
    def _card_row(self) -> int:
        return self._above + self._single_rows // 2

    def _place(self, row: int, column: int, across: int = 1) -> Rectangle:
        left, top, width, height = FRAME
        w = width / ACROSS
        # Stacks are as low as strips can be: gold is dear.
        h = (height - TITLE_HEIGHT) / (MOST_ROWS if self._stacks else self.rows)
        return (
            left + column * w + GAP,
            top + TITLE_HEIGHT + row * h + LABEL_HEIGHT,
            across * w - 2.0 * GAP,
            h - LABEL_HEIGHT - GAP,
        )


def inner(box: Rectangle, inset: float = INSET) -> Rectangle:
    """A box without its margins."""
    x, y, w, h = box
    return x + inset * w, y + inset * h, (1.0 - 2.0 * inset) * w, (1.0 - 2.0 * inset) * h
