"""The workshop's own heading on its records: words, a logo and the paper, said once.

It lies beside the workshop's cards in the person's data folder.
"""

import json
from base64 import b64encode
from dataclasses import asdict, dataclass
from io import BytesIO
from pathlib import Path
from typing import Literal, get_args

from PIL import Image

from tonematch.errors import ValueRefused
from tonematch.logbook.photo_folder import usual_folder
from tonematch.wholefile import make_folder, write_whole

Paper = Literal["A4", "Letter"]
_LARGEST = (600, 300)  # pixels of a logo as it is kept: 50 mm wide at 300 to the inch
_MOST_PIXELS = 50_000_000


@dataclass(frozen=True)
class Letterhead:
    """What stands above every record.

    Attributes
    ----------
    words : str
        Name, address and so on, a line each.
    logo : str
        A PNG picture, base64.
    paper : {"A4", "Letter"}
        What a PDF is laid out for.
    """

    words: str = ""
    logo: str = ""
    paper: Paper = "A4"

    @property
    def lines(self) -> list[str]:
        """Its words, line by line."""
        return [line.strip() for line in self.words.splitlines() if line.strip()]


def letterhead_path() -> Path:
    """Where it is kept."""
    return usual_folder() / "heading.json"


def letterhead() -> Letterhead:
    """The heading as it is kept; ValueRefused where its file cannot be read."""
    path = letterhead_path()
    try:
        kept = Letterhead(**json.loads(path.read_text(encoding="utf-8")))
        if kept.paper not in get_args(Paper):
            raise ValueError(kept.paper)
    except (FileNotFoundError, NotADirectoryError):
        return Letterhead()
    except (OSError, ValueError, TypeError) as error:
        raise ValueRefused(
            f"Your heading in {path} cannot be used: move the file away, and say it anew."
        ) from error
    return kept


def keep_letterhead(heading: Letterhead) -> None:
    """Keep a heading in the place of the one before; ValueRefused where it cannot be kept."""
    path = letterhead_path()
    try:
        make_folder(path.parent)
        write_whole(path, json.dumps(asdict(heading), indent=1).encode())
    except OSError as error:
        raise ValueRefused(
            f"The heading cannot be kept in {path} ({error.strerror}): free some space there."
        ) from error


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
