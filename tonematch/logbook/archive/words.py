"""What is said of a logbook that goes out or in as a whole."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from tonematch.logbook.archive.bringing_in import BroughtIn
from tonematch.logbook.archive.checking import Checked
from tonematch.logbook.archive.emptying import Emptied
from tonematch.logbook.archive.restoring import BackedUp, PutBack
from tonematch.logbook.archive.workshop import OwnTaken
from tonematch.logbook.archive.writing import Written
from tonematch.logbook.core import Act, moment_of
from tonematch.logbook.database.copies import MOMENT, count_rows, moment_in_name, say_counts

ON_SERVER = "The logbook lies on a server, whose own dumps are its copies."


def say_written(written: Written, out: Path) -> str:
    """What is in an archive, and what is not."""
    told = f"Written to {out}: {say_counts(written.rows) or 'an empty logbook'}."
    return told + _say_lost(written.lost, "Lost or changed since they were kept, and not in it")


def say_brought_in(brought: BroughtIn, archive: Path) -> str:
    """What was added, what was here already, and what of that reads otherwise."""
    told = f"Brought in from {archive}: {say_counts(brought.added) or 'nothing new'}."
    if held := say_counts(brought.held):
        told += f"\nHere already, and left as they are: {held}."
    if different := say_counts(brought.different):
        told += f"\nOf these, the archive says otherwise of: {different}."
    told += _say_own(brought.own)
    return told + _say_lost(brought.lost, "Photographs that the archive had lost")


def say_backed_up(backup: BackedUp) -> str:
    """Where a backup lies, and what is in it."""
    told = f"Backed up to {backup.copy}: {_say_held(backup.rows, backup.photographs)}."
    return told + (f" With it: your {' and your '.join(backup.own)}." if backup.own else "")


def say_put_back(restored: PutBack) -> str:
    """What the logbook holds now, and where it is kept as it was."""
    told = f"Put back from {restored.copy}: {_say_held(restored.rows, restored.photographs)}."
    if restored.set_aside is not None:
        told += f"\nAs it was until now it is kept in {restored.set_aside}."
    return told + _say_own(restored.own)


def say_checked(checked: Checked) -> str:
    """What was found in a logbook, and what can be mended."""
    told = [
        f"Rows: {checked.rows}. Photographs: {checked.photographs}.",
        *checked.wrong,
        _say_newest_copy(checked.newest_copy),
        say_storage(checked.storage),
    ]
    if checked.drafts:
        told.append(f"Left half written by a program that was stopped: {len(checked.drafts)}.")
    if checked.orphans:
        told.append(f"Files among the photographs that no row names: {len(checked.orphans)}.")
    found = f"Wrong: {len(checked.wrong)}" if checked.wrong else "Nothing is wrong"
    mendable = len(checked.drafts) + len(checked.orphans)
    return "\n".join([*told, f"{found}; to be mended: {mendable or 'nothing'}."])


def say_storage(storage: Mapping[str, int]) -> str:
    """What the logbook takes on the disk; small pictures are made anew where they are gone."""
    taken = (f"{name} {size / 1e6:.1f} MB" for name, size in storage.items() if size)
    return f"On the disk: {', '.join(taken)}."


def _say_newest_copy(moment: str | None) -> str:
    if moment is None:
        return ON_SERVER
    if not moment:
        return "No copy lies beside the logbook: back it up (tonematch logbook backup)."
    return f"The newest copy is of {_say_moment(moment)}."


def say_act(act: Act) -> str:
    """What was done by one press, when, and at which bench."""
    where = f" at {act.bench}" if act.bench else ""
    why = f" ({act.reason})" if act.reason else ""
    return f"{act.words}{why}, {moment_of(act.made_at):%Y-%m-%d %H:%M}{where}"


def say_emptied(emptied: Emptied) -> str:
    """What is gone for good, and where it may be found yet."""
    gone = say_counts(emptied.rows)
    if not gone:
        return "Nothing was removed, so there is nothing to empty."
    told = f"Gone from the logbook: {gone}. Its copies from before hold it still."
    if emptied.aside is not None:
        told += f" Photographs that nothing else needs lie in {emptied.aside} now."
    return told


def say_copy(copy: Path) -> str:
    """When a copy was made, and what is in it."""
    return f"{_say_moment(moment_in_name(copy))}: {say_counts(count_rows(copy))}"


def _say_moment(moment: str) -> str:
    at = datetime.strptime(moment, MOMENT).replace(tzinfo=UTC).astimezone()
    return f"{at:%Y-%m-%d %H:%M}"


def say_mended(checked: Checked, aside: Path | None) -> str:
    """What was swept, and where pictures lie that may be wanted yet."""
    told = f"Removed: {len(checked.drafts)} half written."
    if aside is not None:
        told += (
            f" The {len(checked.orphans)} that no row names lie in {aside} now: look through them, "
            "and remove what you do not want."
        )
    return told


def _say_held(rows: Mapping[str, int], photographs: int) -> str:
    told = say_counts(rows) or "no rows"
    return f"{told}; files of photographs copied: {photographs}" if photographs else told


def _say_own(own: OwnTaken) -> str:
    told = f"\nTaken with it: your {' and your '.join(own.taken)}." if own.taken else ""
    if own.left:
        told += f"\nIt holds another {' and other '.join(own.left)}: yours stay as they are."
    return told


def _say_lost(lost: Sequence[str], words: str) -> str:
    return f"\n{words}: {', '.join(lost)}." if lost else ""
