"""The bench through a reload: what lies there and is not kept yet goes to the logbook as a draft.

Only what changed is written, each photograph, mark and answer by its own name, so that two pages
that work on one piece keep what either did.
"""

from typing import Any

from tonematch.errors import LogbookError
from tonematch.logbook.core import TO_COMPARE, Draft
from tonematch.logbook.store import Logbook
from tonematch.screens.marking import Marks
from tonematch.screens.session import SECOND_LIGHT, STRIPS, Shot, bench

_BESIDE, _MARK, _ANSWER = "beside ", "mark ", "answer "
# What an uploader of this page alone was seen to hold: in another page it would mislead.
_OF_THIS_PAGE = "handed-"
_NOT_KEPT = "What lies on the bench would not outlive a reload. "


def keep_draft(logbook: Logbook) -> None:
    """Write down what changed on the bench since it was written down last."""
    held = bench()
    here = _on_bench()
    changed = {
        name: here.get(name)
        for name in here.keys() | held.drafted.keys()
        if here.get(name) != held.drafted.get(name)
    }
    if not held.piece or not changed:
        return
    held.drafted = here  # also where it cannot be written: that is said once
    photographs = {n: (s.source, s.name) for n, s in changed.items() if isinstance(s, Shot)}
    values = {name: said for name, said in changed.items() if name not in photographs}
    try:
        logbook.keep_draft(held.piece, Draft(values, photographs), held.zone)
    except LogbookError as error:
        held.cautions = tuple(dict.fromkeys((*held.cautions, f"{_NOT_KEPT}{error}")))


def take_draft(logbook: Logbook) -> None:
    """Put what was left on the bench for its piece there again."""
    held = bench()
    draft = logbook.draft(held.piece, held.zone)
    for name, (source, file_name) in draft.photographs.items():
        held.shots[name.removeprefix(TO_COMPARE).removeprefix(_BESIDE)] = Shot(file_name, source)
    boxes: dict[str, dict[str, Any]] = {}
    for name, said in draft.values.items():
        if name.startswith(_MARK):
            picture, _, role = name.removeprefix(_MARK).partition(" ")
            boxes.setdefault(picture, {})[role] = tuple(said)
        elif name.startswith(_ANSWER):
            held.answers[name.removeprefix(_ANSWER)] = said
    held.marks |= {picture: Marks(marked) for picture, marked in boxes.items()}
    held.drafted = _on_bench()


def end_draft(logbook: Logbook) -> None:
    """What lies on the bench is in the logbook now: it is no draft until it is changed."""
    held = bench()
    logbook.end_draft(held.piece, held.zone)
    held.kept_pictures = _pictures(TO_COMPARE)
    held.drafted = {}


def _on_bench() -> dict[str, Any]:
    """What a reload would lose: those of the pair unless they are kept."""
    held, pair = bench(), _pictures(TO_COMPARE)
    answers = {
        f"{_ANSWER}{key}": said
        for key, said in held.answers.items()
        if isinstance(said, str | int | float) and not key.startswith(_OF_THIS_PAGE)
    }
    return answers | _pictures(_BESIDE) | ({} if pair == held.kept_pictures else pair)


def _pictures(kind: str) -> dict[str, Any]:
    """Photographs and marks of the pair that is to be compared, or of what is beside it."""

    def is_of_it(place: str) -> bool:
        return place.startswith((SECOND_LIGHT, STRIPS)) == (kind == _BESIDE)

    held = bench()
    shots = {f"{kind}{place}": shot for place, shot in held.shots.items() if is_of_it(place)}
    marks = {
        f"{_MARK}{picture} {role}": list(box)
        for picture, marked in held.marks.items()
        if is_of_it(picture)
        for role, box in marked.boxes.items()
    }
    return shots | marks
