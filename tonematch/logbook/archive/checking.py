"""Everything that a logbook holds, looked at: what is wrong, what can be mended, what is left over.

What is mended is only what no logbook needs: drafts that a killed program left. Pictures that no
row names are put into a folder of their own, since an older copy of the logbook may name them.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.archive.entries import PHOTOGRAPHS, Entries, all_entries
from tonematch.logbook.archive.matching import same_rows
from tonematch.logbook.archive.restoring import opened_elsewhere
from tonematch.logbook.database.copies import moment_in_name
from tonematch.logbook.database.damage import damaged_places
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.photo_folder import find_photo, read_bytes
from tonematch.logbook.store import Logbook
from tonematch.wholefile import find_drafts, is_left_over, make_folder, sync_folder


@dataclass(frozen=True)
class Checked:
    """What was found among so many rows and photographs; files are a day old or more."""

    rows: int
    photographs: int
    wrong: tuple[str, ...]  # sentences on what is damaged, lost or changed, each with what to do
    orphans: tuple[Path, ...]  # files among the photographs that no row names
    drafts: tuple[Path, ...]  # files that a killed program left half written
    newest_copy: str | None  # when it was made; empty where there is none, None on a server
    storage: Mapping[str, int]  # bytes on the disk, by what takes them


def check_logbook(book: Logbook) -> Checked:
    """Look at every row, every value in it, and every photograph."""
    copies = book.place.copies
    with book.reading() as session:
        wrong = [*_wrong_rows(book, session)]
        entries = all_entries(session)
    if not wrong and copies:
        wrong += _wrong_since(entries, copies[-1])
    files = {
        find_photo(book.photo_folders, entry["sha256"], entry["file_name"]): entry["sha256"]
        for entry in entries[PHOTOGRAPHS]
    }
    wrong += _wrong_photographs(files)
    kept = [picture for folder in book.photo_folders for picture in folder.glob("??/*")]
    places = [folder for there in book.place.folders.values() for folder in there]
    places += [folder / "drafts" for folder in book.photo_folders]
    folders = {each for f in places for each in (f.parent, f, *f.glob("??"))}
    drafts = [draft for folder in sorted(folders) for draft in find_drafts(folder)]
    unnamed = (p for p in sorted(kept) if p not in files and not p.name.startswith("."))
    orphans = [picture for picture in unnamed if is_left_over(picture)]
    return Checked(
        sum(map(len, entries.values())),
        len(files),
        tuple(wrong),
        tuple(orphans),
        tuple(drafts),
        None if book.place.on_server else moment_in_name(copies[-1]) if copies else "",
        storage(book),
    )


def storage(book: Logbook) -> dict[str, int]:
    """Bytes that a logbook and what lies beside it take on the disk, by what takes them."""
    with book.reading() as session:
        rows = book.place.size(session.connection())
    taken = {
        name: sum(f.stat().st_size for each in there for f in each.rglob("*") if f.is_file())
        for name, there in book.place.folders.items()
    }
    return {"rows": rows, **taken}


def _wrong_rows(book: LogbookStore, session: Session) -> Iterator[str]:
    yield from book.place.faults(session.connection())
    for where in damaged_places(session):
        yield f"Table {where}, cannot be what was written: {book.place.remedy}."


def _wrong_since(entries: Entries, copy: Path) -> Iterator[str]:
    """Rows that the newest copy holds and the logbook does not, or otherwise without a trace."""
    try:
        with opened_elsewhere(copy) as session:
            before = all_entries(session)
    except LogbookError as error:
        yield f"The newest copy cannot be read. {error}"
        return
    for table, found in same_rows(before, entries, by_value=False).items():
        for entry in before[table]:
            if entry["id"] not in found:
                yield (
                    f"Table {table}, row {entry['id']}, is gone or reads otherwise than in {copy}, "
                    "and no change says why: compare it there, and put that copy back if it is "
                    "right."
                )


def _wrong_photographs(files: dict[Path, str]) -> Iterator[str]:
    for path, sha256 in files.items():
        try:
            read_bytes(path, sha256)
        except LogbookError as error:
            yield str(error)


def mend(book: LogbookStore, checked: Checked) -> Path | None:
    """Remove drafts, and put pictures that no row names aside; gives where those are then."""
    with _left_over():
        for draft in checked.drafts:
            draft.unlink(missing_ok=True)
    return put_aside(book, checked.orphans)


def put_aside(book: LogbookStore, pictures: Sequence[Path]) -> Path | None:
    """Put pictures that no row names into a folder beside the logbook; gives it, if there are."""
    aside = book.place.folders["left over"][0]
    if not pictures:
        return None
    with _left_over():
        make_folder(aside)
        for picture in pictures:
            picture.rename(aside / picture.name)
            sync_folder(picture.parent)
        sync_folder(aside)
    return aside


@contextmanager
def _left_over() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise LogbookError(
            f"What is left over cannot be put away ({error.strerror}): make the folder of the "
            "logbook writable."
        ) from error
