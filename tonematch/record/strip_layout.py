"""Where everything lies on a sheet of test strips, in millimetres, for printing and for reading.

The sheet has a black frame, whose corners are marked in the photograph, and equal cells in three
columns. The grey card lies in the middle cell, where the light is nearest to that of all strips.
Each strip has a bare part, read as before, and a part on which the layer is laid, read as after.
"""

import math
from dataclasses import dataclass
from functools import cached_property

from tonematch.errors import ValueRefused
from tonematch.toning.core import MOST_STRIPS

Rectangle = tuple[float, float, float, float]

ACROSS = 3
# A4 (ISO 216) with what a printer cannot print left free.
PAGE = (210.0, 297.0)
FRAME: Rectangle = (12.0, 12.0, 186.0, 273.0)
TITLE_HEIGHT, LABEL_HEIGHT = 12.0, 11.0
GAP = 2.5
# Of each part of a strip, what is left out at every side: brush marks, edges, shadows.
INSET = 0.2


@dataclass(frozen=True)
class StripLayout:
    """A sheet for a number of strips.

    Attributes
    ----------
    count : int
        1 to 20.

    Raises
    ------
    ValueRefused
        For another count.
    """

    count: int

    def __post_init__(self) -> None:
        if self.count not in range(1, MOST_STRIPS + 1):
            raise ValueRefused(
                f"A sheet of {self.count} strips cannot be read in one photograph: print sheets "
                f"of 1 to {MOST_STRIPS}."
            )

    @property
    def rows(self) -> int:
        """Rows of cells; one cell is the card's."""
        return max(3, math.ceil((self.count + 1) / ACROSS))

    @property
    def card(self) -> Rectangle:
        """Place of the grey card: x, y, width, height from the sheet's upper left corner."""
        return self._place(self._card_cell)

    @cached_property
    def strips(self) -> tuple[Rectangle, ...]:
        """Places of the strips in order, row by row."""
        cells = [cell for cell in range(self.rows * ACROSS) if cell != self._card_cell]
        return tuple(self._place(cell) for cell in cells[: self.count])

    def halves(self, strip: int) -> tuple[Rectangle, Rectangle]:
        """The bare part of a strip (from 0) and the part that is toned."""
        x, y, w, h = self.strips[strip]
        return (x, y, w / 2.0, h), (x + w / 2.0, y, w / 2.0, h)

    @property
    def _card_cell(self) -> int:
        return (self.rows // 2) * ACROSS + ACROSS // 2

    def _place(self, cell: int) -> Rectangle:
        row, column = divmod(cell, ACROSS)
        left, top, width, height = FRAME
        w = width / ACROSS
        h = (height - TITLE_HEIGHT) / self.rows
        return (
            left + column * w + GAP,
            top + TITLE_HEIGHT + row * h + LABEL_HEIGHT,
            w - 2.0 * GAP,
            h - LABEL_HEIGHT - GAP,
        )


def inner(box: Rectangle, inset: float = INSET) -> Rectangle:
    """A box without its margins."""
    x, y, w, h = box
    return x + inset * w, y + inset * h, (1.0 - 2.0 * inset) * w, (1.0 - 2.0 * inset) * h


def corners_of(box: Rectangle) -> list[tuple[float, float]]:
    """Upper left, upper right, lower right, lower left."""
    x, y, w, h = box
    return [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
