"""A logbook with rows in every table, and all that a logbook holds, read without our own code."""

import hashlib
import json
import sqlite3
import zipfile
from collections.abc import Mapping
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

from tests.logbook.laying import lay
from tonematch.logbook.core import Judgement, Piece
from tonematch.logbook.store import open_logbook
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Calibration, Comparison
from tonematch.toning.core import Coat, Layer, Proposal, Strip, Surface, Trial
from tonematch.toning.planning.ground import Ground

FORMULA = '=HYPERLINK("http://invented.example","a, b")'
PICTURES = {"frame.JPG": bytes(range(256)) * 9, "Detail": b"\xff\xd8 another"}


def make_whole(
    path: Path, trial: Trial, comparison: Comparison, calibration: Calibration, proposal: Proposal
) -> None:
    """A logbook in which every table has rows: two pieces, and texts that a spreadsheet would run.

    One trial was put right, one is left out, one layer retired, the piece renamed, a layer lies.
    """
    with open_logbook(path) as book:
        for name in ("mirror", "frame"):
            book.add_piece(Piece(name, "water", notes="-2+3", laid_before=("thin shellac",)))
            for file_name, data in PICTURES.items():
                book.keep_photo(data + name.encode(), file_name, name)
        book.add_piece(Piece("console", zone="left"))
        book.add_trials([replace(trial, piece="console", zone="left")])
        sha256 = book.keep_photo(PICTURES["Detail"], "both.png", "frame")
        book.keep_photo(PICTURES["Detail"], "both.png", "mirror")
        read = replace(comparison.original, photo_sha256=sha256, calibration=calibration)
        known = replace(comparison, original=read)
        number = book.keep_comparison("frame", known, {sha256: Aids(encoding="linear")})
        book.add_findings(number, ["The repair is too even."])
        book.keep_proposal("frame", proposal, number)
        first = book.add_trial(replace(trial, note=FORMULA), before=read, after=comparison.repair)
        book.correct_trial(first, replace(trial, after=trial.after + 1.0), reason="@misread")
        book.exclude_trial(book.add_trial(replace(trial, piece="mirror")), "+wrong pot")
        book.add_trials([trial, trial, replace(trial, piece="", note="'quoted'\tand tabbed")])
        rub = Layer("rub", "rub", beneath="pink bole")
        book.add_layer(rub)
        book.add_layer(Layer("old brew", "wash"))
        book.retire_layer("old brew")
        book.keep_strips("mirror", [Strip((Coat(rub, 0.5),), (rub,))], Ground(Surface()))
        book.keep_judgement(Judgement("darker", ("lighter", "warmer"), "far", "plain"))
        lay(book, trial.application, known)
        book.add_recipe("-hall tone", book.laid_steps("frame"), "in the north hall")
        book.use_recipe("-hall tone", "mirror")
        book.exclude_trial(first)
        book.undo(reason="not that one")
        book.change_piece("mirror", replace(book.piece("mirror"), name="=mirror", tolerance=2))


def rows(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of what lasts, as SQLite gives it; JSON without regard to blanks.

    Cells are in the order of their columns' names: a new logbook has another than an old one.
    """
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as opened:
        tables = [
            name
            for (name,) in opened.execute("SELECT name FROM sqlite_master WHERE type='table'")
            if name != "drafts"
        ]
        return {table: _cells(opened.execute(f"SELECT * FROM {table}")) for table in tables}


def _cells(found: sqlite3.Cursor) -> list[tuple[Any, ...]]:
    names = [name for name, *_ in found.description]
    order = sorted(range(len(names)), key=names.__getitem__)
    return sorted(tuple(_plain(row[at]) for at in order) for row in found)


def _plain(value: Any) -> tuple[str, Any]:
    if isinstance(value, str) and value[:1] in ("[", "{"):
        value = json.dumps(json.loads(value))
    return type(value).__name__, value


def pictures(path: Path) -> dict[str, bytes]:
    """Every file of the logbook's photographs, by its path in their folder."""
    folder = path.with_name(f"{path.stem} photographs")
    found = folder.rglob("*")
    return {str(p.relative_to(folder)): p.read_bytes() for p in found if p.is_file()}


def files_in(archive: Path) -> dict[str, bytes]:
    """What an archive holds, by name."""
    with zipfile.ZipFile(archive) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def pack(archive: Path, files: Mapping[str, bytes]) -> Path:
    """An archive of these files, its sums made anew."""
    held = {name: data for name, data in files.items() if name != "sha256sums.txt"}
    sums = "".join(f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in held.items())
    with zipfile.ZipFile(archive, "w") as packed:
        for name, data in {**held, "sha256sums.txt": sums.encode()}.items():
            how = zipfile.ZIP_STORED if name.startswith("photo") else zipfile.ZIP_DEFLATED
            packed.writestr(name, data, how)
    return archive
