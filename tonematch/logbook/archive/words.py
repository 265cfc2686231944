"""What is said of a logbook that goes out or in as a whole."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from tonematch.logbook.archive.bringing_in import BroughtIn
from tonematch.logbook.archive.writing import Written


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
    return told + _say_lost(brought.lost, "Photographs that the archive had lost")


def say_counts(counts: Mapping[str, int]) -> str:
    """How many rows of each table that has any: ``pieces 2, trials 60``."""
    return ", ".join(f"{table.replace('_', ' ')} {n}" for table, n in counts.items() if n)


def _say_lost(lost: Sequence[str], words: str) -> str:
    return f"\n{words}: {', '.join(lost)}." if lost else ""
