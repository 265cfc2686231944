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
from tonematch.logbook.database.copies import copies_in, moment_in_name, usual_copies
from tonematch.logbook.database.damage import damaged_places
from tonematch.logbook.database.logbook_file import LogbookFile
from tonematch.logbook.photo_folder import find_photo, read_bytes
from tonematch.logbook.store import Logbook
from tonematch.wholefile import find_drafts, is_left_over, make_folder, sync_folder


@dataclass(frozen=True)
class Checked:
    """What was found.

    Attributes
    ----------
    rows, photographs : int
        How many were looked at.
    wrong : tuple of str
        Sentences on what is damaged, lost or changed, each with what to do.
    orphans : tuple of pathlib.Path
        Files among the photographs that no row names, a day old or more.
    drafts : tuple of pathlib.Path
        Files that a killed program left half written, a day ago or more.
    newest_copy : str
        When the newest copy was made, as its name says it; empty where there is none.
    storage : mapping of str to int
        Bytes on the disk, by what takes them.
    """

    rows: int
    photographs: int
    wrong: tuple[str, ...]
    orphans: tuple[Path, ...]
    drafts: tuple[Path, ...]
    newest_copy: str
    storage: Mapping[str, int]


def check_logbook(book: Logbook) -> Checked:
    """Look at every row, every value in it, and every photograph."""
    copies = copies_in(usual_copies(book.path), book.path.stem)
    with book.reading() as session:
        wrong = [*_wrong_rows(session)]
        entries = all_entries(session)
    if not wrong and copies:
        wrong += _wrong_since(entries, copies[-1])
    files = {
        find_photo(book.photo_folders, entry["sha256"], entry["file_name"]): entry["sha256"]
        for entry in entries[PHOTOGRAPHS]
    }
    wrong += _wrong_photographs(files)
    kept = [picture for folder in book.photo_folders for picture in folder.glob("??/*")]
    pictures = (*book.photo_folders, *(folder / "drafts" for folder in book.photo_folders))
    folders = {book.path.parent, usual_copies(book.path)}
    folders |= {each for folder in (*pictures, book.small_pictures) for each in folder.glob("??")}
    drafts = [draft for folder in sorted(folders) for draft in find_drafts(folder)]
    unnamed = (p for p in sorted(kept) if p not in files and not p.name.startswith("."))
    orphans = [picture for picture in unnamed if is_left_over(picture)]
    return Checked(
        sum(map(len, entries.values())),
        len(files),
        tuple(wrong),
        tuple(orphans),
        tuple(drafts),
        moment_in_name(copies[-1]) if copies else "",
        storage(book),
    )


def storage(book: Logbook) -> dict[str, int]:
    """Bytes that a logbook and what lies beside it take on the disk, by what takes them."""
    beside = {
        "photographs": book.photo_folders,
        "small pictures": [book.small_pictures],
        "copies": [usual_copies(book.path)],
        "left over": [_left_over_folder(book)],
    }
    files = {name: (f for each in there for f in each.rglob("*")) for name, there in beside.items()}
    taken = {
        name: sum(f.stat().st_size for f in found if f.is_file()) for name, found in files.items()
    }
    return {"rows": book.path.stat().st_size, **taken}


def _left_over_folder(book: LogbookFile) -> Path:
    return book.path.with_name(f"{book.path.stem} left over")


def _wrong_rows(session: Session) -> Iterator[str]:
    connection = session.connection()
    remedy = "put back the newest copy (tonematch logbook restore)"
    for (words,) in connection.exec_driver_sql("PRAGMA integrity_check"):
        if words != "ok":
            yield f"The file is damaged ({words}): {remedy}."
    for table, row, of, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield f"Table {table}, row {row}, points to a row of {of} that is not there: {remedy}."
    for place in damaged_places(session):
        yield f"Table {place}, cannot be what was written: {remedy}."


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


def mend(book: LogbookFile, checked: Checked) -> Path | None:
    """Remove drafts, and put pictures that no row names aside; gives where those are then."""
    with _left_over():
        for draft in checked.drafts:
            draft.unlink(missing_ok=True)
    return put_aside(book, checked.orphans)


def put_aside(book: LogbookFile, pictures: Sequence[Path]) -> Path | None:
    """Put pictures that no row names into a folder beside the logbook; gives it, if there are."""
    aside = _left_over_folder(book)
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
