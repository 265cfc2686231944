"""The workshop's heading and cards, which belong to no logbook and go along with each.

Another workshop's are never taken in the place of one's own.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from tonematch.logbook.database.copies import stamp
from tonematch.logbook.letterhead import HEADING
from tonematch.logbook.own_cards import OWN_CARDS
from tonematch.wholefile import make_folder, read_whole, write_whole

FOLDER = "workshop"
OWN_FILES = {f"{FOLDER}/{own.name}": own for own in (HEADING, OWN_CARDS)}


@dataclass(frozen=True)
class OwnTaken:
    """What was taken, since nothing was said here, and what was left, since another was."""

    taken: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


def own_data() -> dict[str, bytes]:
    """What was said here, by name; ValueRefused where it cannot be read."""
    found = {name: own.data() for name, own in OWN_FILES.items()}
    return {name: data for name, data in found.items() if data is not None}


def take_own(others: Mapping[str, bytes]) -> OwnTaken:
    """Keep what others said where nothing was said here."""
    held = own_data()
    new = [name for name in others if name not in held]
    for name in new:
        OWN_FILES[name].keep(others[name])
    left = (name for name, data in others.items() if held.get(name, data) != data)
    return OwnTaken(
        tuple(OWN_FILES[name].called for name in new),
        tuple(f"{OWN_FILES[name].called} ({name})" for name in left),
    )


def copy_own(folder: Path) -> tuple[str, ...]:
    """Copy what was said into a folder, where what lies already stays, under another name.

    Gives what there is.
    """
    held = own_data()
    for name, data in held.items():
        copy = folder / name
        if copy.exists() and read_whole(copy) != data:
            copy.rename(copy.with_stem(f"{copy.stem} {stamp()}"))
        make_folder(copy.parent)
        write_whole(copy, data)
    return tuple(OWN_FILES[name].called for name in held)


def copied_own(folder: Path) -> dict[str, bytes]:
    """What `copy_own` put into a folder, as far as it can be used."""
    found = {name: read_whole(folder / name) for name in OWN_FILES if (folder / name).exists()}
    return {name: data for name, data in found.items() if OWN_FILES[name].can_use(data)}
