"""The workshop's own cards: what its white, grey and black card reflect, set once for both faces.

They lie as text in the person's data folder, one line a card. A card that nobody set is assumed
to be as ``swatches/cards.toml`` says.
"""

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tonematch.errors import ValueRefused
from tonematch.logbook.photo_folder import usual_folder
from tonematch.measure.calibration.card import card_from_lab, card_from_reflectance, usual_card
from tonematch.measure.core import Area, CardValue
from tonematch.wholefile import make_folder, write_whole

CARDS = ("white", "grey", "black")
Stated = float | Sequence[float]  # a reflectance, or a measured L*, a*, b*
_HEAD = (
    "# What your cards reflect, 0 to 1; three numbers are the grey card's measured L*, a*, b*.\n"
)


@dataclass(frozen=True, eq=False)
class Cards:
    """Three cards and what is known of them.

    Attributes
    ----------
    values : mapping of str to CardValue
        By "white", "grey" and "black"; the words say where it is assumed.
    stated : mapping of str to float or sequence of three float
        What was said of some of them.
    """

    values: Mapping[str, CardValue]
    stated: Mapping[str, Stated]

    def reflectance(self, name: str) -> float:
        """Luminous reflectance, above 0 and up to 1."""
        return float(self.values[name].xyz[1])

    def marked(self, areas: Mapping[str, Area]) -> tuple[tuple[Area, float], ...]:
        """White and black cards that are marked, by name, as neutrals of known reflectance."""
        return tuple((area, self.reflectance(name)) for name, area in areas.items())


def cards_path() -> Path:
    """Where the cards are kept."""
    return usual_folder() / "cards.toml"


def own_cards() -> Cards:
    """The cards as they are kept.

    Raises
    ------
    ValueRefused
        Where the file cannot be read or holds what cannot be a card.
    """
    path = cards_path()
    try:
        return _cards(tomllib.loads(path.read_text(encoding="utf-8")))
    except (FileNotFoundError, NotADirectoryError):
        return _cards({})
    except (OSError, ValueError, ValueRefused) as error:
        raise ValueRefused(
            f"Your cards in {path} cannot be used ({str(error).rstrip('.')}): set them right "
            "there, or move the file away and state them anew."
        ) from error


def keep_cards(changes: Mapping[str, Stated | None]) -> Cards:
    """Keep what is said of some cards beside what was said of the others.

    Parameters
    ----------
    changes : mapping of str to float, sequence of three float or None
        By name; None forgets what was said, so that the card is assumed again.

    Raises
    ------
    ValueRefused
        Where that cannot be a card or cannot be kept; what was kept stays as it is.
    """
    together = {**own_cards().stated, **changes}
    cards = _cards({name: said for name, said in together.items() if said is not None})
    lines = [
        f"{name} = {json.dumps(cards.stated[name])}\n" for name in CARDS if name in cards.stated
    ]
    try:
        make_folder(usual_folder())
        write_whole(cards_path(), (_HEAD + "".join(lines)).encode())
    except OSError as error:
        raise ValueRefused(
            f"The cards cannot be kept in {cards_path()} ({error.strerror}): free some space there."
        ) from error
    return cards


def _cards(stated: Mapping[str, Any]) -> Cards:
    """Cards of what was said of them, checked."""
    values = {name: usual_card(name) for name in CARDS}
    for name, said in stated.items():
        if name not in CARDS:
            raise ValueRefused(f"'{name}' is none of the cards white, grey and black.")
        measured = name == "grey" and isinstance(said, Sequence) and not isinstance(said, str)
        if not all(type(one) in (int, float) for one in (said if measured else [said])):
            raise ValueRefused(f"What the {name} card reflects is no number from 0 to 1: {said!r}.")
        values[name] = card_from_lab(said) if measured else card_from_reflectance(said)
    cards = Cards(values, dict(stated))
    white, grey, black = map(cards.reflectance, CARDS)
    if not white > grey > black:
        raise ValueRefused(
            f"White, grey and black cards would reflect {white:g}, {grey:.3g} and {black:g}: each "
            "must reflect less than the one before it."
        )
    return cards
