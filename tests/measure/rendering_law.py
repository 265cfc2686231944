"""What a camera does to colours to please, by a law that no prior of the project was made from.

In the display's code values, colour by colour: six hues at even steps have a saturation, a turn and
a brightness each, one for darks and one for lights, and what lies between is interpolated, as
in the tables of a camera's picture styles. Greys stay.

That a camera does so after its matrix: Lin, H., Kim, S. J., Susstrunk, S. and Brown, M. S. (2011).
Revisiting radiometric calibration for color computer vision. ICCV, 129-136. Sizes are this
project's choice: those with which the 18 colours of a chart are off by about as much as in the real
photographs here, once their tone is known (root mean squares beside the chroma: 0.08 in L*,
0.14 outwards, 0.12 around).
"""

import numpy as np

from tests.demonstration.spectra import Array
from tests.measure.tone_families import Curve

HUES = 6
BRIGHTER, STRONGER, TURNED = 0.20, 0.24, 0.14
"""Standard deviations of a hue: of its grey beside its colourfulness, of this, and in radians."""
GAMMA = 2.2
LUMA = np.array([0.2126, 0.7152, 0.0722])
"""ITU-R BT.709."""
# Two directions of colour, square to the grey axis and to each other, of length 1.
OPPONENT = np.array([[2.0, -1.0, -1.0], [0.0, 1.0, -1.0]]) / np.sqrt([[6.0], [2.0]])


def drawn_rendering(rng: np.random.Generator) -> Curve:
    """A rendering by chance: linear light (..., 3) to linear light, greys to themselves."""
    table = rng.normal(size=(2, HUES, 3)) * [BRIGHTER, STRONGER, TURNED]

    def rendered(light: Array) -> Array:
        code = np.maximum(light, 0.0) ** (1 / GAMMA)
        grey = code @ LUMA
        along, across = np.moveaxis((code - grey[..., None]) @ OPPONENT.T, -1, 0)
        size, hue = np.hypot(along, across), np.arctan2(across, along)
        place = hue / (2 * np.pi) * HUES % HUES
        at, part = place.astype(int) % HUES, (place % 1.0)[..., None]
        dark, bright = ((1 - part) * row[at] + part * row[(at + 1) % HUES] for row in table)
        share = np.clip(grey, 0.0, 1.0)[..., None]
        lift, gain, turn = np.moveaxis((1 - share) * dark + share * bright, -1, 0)
        size = size * np.exp(gain)
        colour = np.stack([np.cos(hue + turn), np.sin(hue + turn)], axis=-1) @ OPPONENT
        colour -= (colour @ LUMA)[..., None]  # luma stays, but for the lift
        found = (grey + lift * size)[..., None] + size[..., None] * colour
        return np.asarray(np.maximum(found, 0.0) ** GAMMA)

    return rendered
