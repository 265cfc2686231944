"""The workshop's own heading on its records: words, a logo and the paper, said once."""

import json
from base64 import b64decode, b64encode
from dataclasses import asdict, dataclass
from io import BytesIO
from typing import Literal, get_args

from PIL import Image

from tonematch.errors import ValueRefused
from tonematch.logbook.own_file import OwnFile

Paper = Literal["A4", "Letter"]
_LARGEST = (600, 300)  # pixels of a logo as it is kept: 50 mm wide at 300 to the inch
_MOST_PIXELS = 50_000_000


@dataclass(frozen=True)
class Letterhead:
    """What stands above every record."""

    words: str = ""  # name, address and so on, a line each
    logo: str = ""  # a PNG picture, base64
    paper: Paper = "A4"  # what a PDF is laid out for

    @property
    def lines(self) -> list[str]:
        """Its words, line by line."""
        return [line.strip() for line in self.words.splitlines() if line.strip()]


def _parsed(text: str) -> Letterhead:
    kept = Letterhead(**json.loads(text or "{}"))
    if kept.paper not in get_args(Paper) or not isinstance(kept.words, str):
        raise ValueError("its words or paper are not what they may be")
    b64decode(kept.logo, validate=True)
    return kept


HEADING = OwnFile("heading.json", "heading", _parsed)


def keep_letterhead(heading: Letterhead) -> None:
    """Keep a heading in the place of the one before; ValueRefused where it cannot be kept."""
    HEADING.keep(json.dumps(asdict(heading), indent=1).encode())


def logo_of(data: bytes) -> str:
    """A picture file as a logo on white paper, made small; ValueRefused where it is none."""
    try:
        with Image.open(BytesIO(data)) as opened:
            if opened.width * opened.height > _MOST_PIXELS:
                raise ValueError(opened.size)
            drawn = opened.convert("RGBA")
        drawn.thumbnail(_LARGEST)
        logo, file = Image.new("RGBA", drawn.size, "white"), BytesIO()
        logo.alpha_composite(drawn)
        logo.convert("RGB").save(file, format="PNG")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise ValueRefused(
            "The logo cannot be read: give a picture as PNG or JPEG, of 50 megapixels at most."
        ) from error
    return b64encode(file.getvalue()).decode("ascii")
