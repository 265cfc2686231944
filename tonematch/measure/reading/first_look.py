"""What is wrong with a photograph as such, told before anything is marked on it.

Each sentence says what to do better. None of it refuses: a bright window beside the piece may be
clipped, and what lies on the areas is checked when they are read (`checks`).
"""

from tonematch.measure.area.areas import Shape, shape_area
from tonematch.measure.reading.checks import edge_width, say_blurred
from tonematch.photo.core import Photo
from tonematch.photo.light import clipped
from tonematch.swatchbook import limits

_STEP_FOR = 600  # clipping is counted on so many pixels along the longer side


def first_look(photo: Photo, card: Shape | None = None) -> tuple[str, ...]:
    """What the photograph itself lacks, gravest first.

    The edges of a card, where one seems to lie, tell best whether the picture is sharp.
    """
    whole = (0, 0, photo.width, photo.height)
    blur = edge_width(photo, shape_area("picture", card or whole))
    said = [*_clipped(photo), *(say_blurred(*blur) if blur else ()), *_small(photo)]
    return (*said, *photo.notes)


def _clipped(photo: Photo) -> list[str]:
    step = max(1, max(photo.width, photo.height) // _STEP_FOR)
    share = float(clipped(photo, 0, 0, photo.width, photo.height, step).mean())
    if share < limits("photo")["clipped_told"]:
        return []
    return [
        f"{100 * share:.0f} % of the picture is clipped white: if any of it is card or gold, "
        "photograph again with less exposure."
    ]


def _small(photo: Photo) -> list[str]:
    megapixels = photo.width * photo.height / 1e6
    if megapixels >= limits("photo")["few_megapixels"]:
        return []
    return [
        f"The picture is small ({megapixels:.1f} megapixels): give the camera's own file, not a "
        "copy that was sent or shrunk."
    ]
