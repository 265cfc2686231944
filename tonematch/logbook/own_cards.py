"""The workshop's own cards: what its white, grey and black card reflect, set once for both faces.

One line a card. A card that nobody set is assumed to be as ``swatches/cards.toml`` says.
"""

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tonematch.errors import ValueRefused
from tonematch.logbook.own_file import OwnFile
from tonematch.measure.calibration.card import card_from_lab, card_from_reflectance, usual_card
from tonematch.measure.core import Area, CardValue

CARDS = ("white", "grey", "black")
Stated = float | Sequence[float]  # a reflectance, or a measured L*, a*, b*
_HEAD = (
    "# What your cards reflect, 0 to 1; three numbers are the grey card's measured L*, a*, b*.\n"
)


@dataclass(frozen=True, eq=False)
class Cards:
    """What is known of the cards "white", "grey" and "black"; the words say where it is assumed."""

    values: Mapping[str, CardValue]
    stated: Mapping[str, Stated]  # what was said of some of them

    def reflectance(self, name: str) -> float:
        """Luminous reflectance, above 0 and up to 1."""
        return float(self.values[name].xyz[1])

    def marked(self, areas: Mapping[str, Area]) -> tuple[tuple[Area, float], ...]:
        """White and black cards that are marked, by name, as neutrals of known reflectance."""
        return tuple((area, self.reflectance(name)) for name, area in areas.items())


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
    together = {**OWN_CARDS.value().stated, **changes}
    cards = _cards({name: said for name, said in together.items() if said is not None})
    lines = [
        f"{name} = {json.dumps(cards.stated[name])}\n" for name in CARDS if name in cards.stated
    ]
    OWN_CARDS.keep((_HEAD + "".join(lines)).encode())
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


OWN_CARDS = OwnFile("cards.toml", "cards", lambda text: _cards(tomllib.loads(text)))
