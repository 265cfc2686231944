"""What a trial must be before it is kept, whichever way it came: a row of a file or the bench.

One test for both ways, so that what the logbook keeps can always be written to a file and read
back from it.
"""

import math
import unicodedata
from dataclasses import dataclass
from datetime import date
from typing import get_args

from tonematch.errors import TrialError
from tonematch.toning.core import KINDS, Application, Finish, Technique, Trial
from tonematch.toning.layers.coats import MOST_CELSIUS
from tonematch.toning.layers.layer_entry import (
    MOST_COATS,
    MOST_NAME,
    MOST_STRENGTH,
    MOST_TEXT,
    fault_of_length,
)
from tonematch.toning.layers.taking_back import TAKEN_BACK
from tonematch.toning.model.lustre_law import MOST_LUSTRE

TECHNIQUES: tuple[str, ...] = get_args(Technique)
FINISHES: tuple[str, ...] = get_args(Finish)

# Limits of sense, not of physics: beyond them a slip of the pen is likelier than a layer.
MOST_STEPS = 1000
MOST_CHROMA_AXIS = 150.0


@dataclass(frozen=True)
class Fault:
    """What is wrong with a trial and what to do, to be set behind a place and a colon."""

    column: str  # of the trial CSV, where it is wrong
    words: str


def find_fault(trial: Trial) -> Fault | None:
    """First thing that is wrong with a trial, or None."""
    application = trial.application
    if not application.layer:
        return Fault("layer", "it is empty; write which layer was laid")
    if application.kind not in KINDS:
        return Fault("kind", f"{application.kind!r} is no kind of layer; {ask_for(KINDS)}")
    if application.technique not in TECHNIQUES:
        return Fault("technique", f"{application.technique!r} is not known; {ask_for(TECHNIQUES)}")
    if application.finish not in FINISHES:
        return Fault("finish", f"{application.finish!r} is not known; {ask_for(FINISHES)}")
    if trial.zone and not trial.piece:
        return Fault("zone", "it is a part of no piece; write which piece it is on")
    return (
        _fault_of_lift(application)
        or _fault_of_texts(trial)
        or _fault_of_date(trial.date)
        or _fault_of_strength(application.strength)
        or _fault_of_count("coats", application.coats, MOST_COATS)
        or _fault_of_count("step", trial.step, MOST_STEPS)
        or _fault_of_lab("before", tuple(map(float, application.before)))
        or _fault_of_lab("after", tuple(map(float, trial.after)))
        or _fault_of_measured(trial)
    )


def check_trial(trial: Trial, kinds: dict[str, str]) -> None:
    """Refuse a trial that cannot be kept (TrialError).

    `kinds` are those of the layers that other trials name, by name without regard to capitals; it
    takes up a layer that is new.
    """
    layer, kind = trial.application.layer, trial.application.kind
    fault = find_fault(trial)
    if fault is None and kinds.setdefault(layer.casefold(), kind) != kind:
        fault = Fault(
            "kind",
            f"it is a {kind} here and a {kinds[layer.casefold()]} in other trials; give one of "
            "them another name",
        )
    if fault is not None:
        named = layer[:MOST_NAME]
        raise TrialError(f"The trial of {named!r} cannot be kept, {fault.column}: {fault.words}.")


def ask_for(words: tuple[str, ...]) -> str:
    """Ask for one of the words."""
    return f"write {', '.join(words[:-1])} or {words[-1]}"


def _fault_of_lift(application: Application) -> Fault | None:
    if application.layer.endswith(TAKEN_BACK) == (application.kind == "lift"):
        return None
    return Fault(
        "kind",
        f"a lift is named after what it takes back, such as 'raw umber wash{TAKEN_BACK}', and "
        "nothing else is so named; put right the layer or its kind",
    )


def _fault_of_texts(trial: Trial) -> Fault | None:
    texts = {
        "piece": trial.piece,
        "zone": trial.zone,
        "layer": trial.application.layer,
        "bench": trial.bench,
        "note": trial.note,
    }
    for column, text in texts.items():
        if fault := fault_of_text(text, note=column == "note"):
            return Fault(column, fault)
    return None


def fault_of_text(text: str, *, note: bool = False) -> str:
    """What is wrong with a name, or with a note, which may have lines; empty where nothing is."""
    allowed = "\n\r\t" if note else ""
    # Most texts are printable throughout, and then need no look at each character.
    if not text.isprintable() and any(
        unicodedata.category(c) in ("Cc", "Cs") and c not in allowed for c in text
    ):
        return "it holds a character that cannot be printed; type it anew"
    if not note and text != text.strip():
        return f"{text!r} has blanks at its ends; take them off"
    return fault_of_length(text, MOST_TEXT if note else MOST_NAME)


def _fault_of_date(text: str) -> Fault | None:
    if not text:
        return None
    try:
        written = date.fromisoformat(text).isoformat()
    except ValueError:
        written = ""
    if written != text:
        return Fault("date", f"{text!r} is not a date; write year-month-day, such as 2026-03-31")
    return None


def _fault_of_strength(strength: float) -> Fault | None:
    if not math.isfinite(strength):
        return Fault("strength", f"{strength} is not a number that can be used; write the strength")
    if strength <= 0:
        return Fault(
            "strength",
            f"{strength:g} is not above 0; write how strong the layer was (1 is the full-strength "
            "mix), or leave the row out if nothing was laid",
        )
    if strength > MOST_STRENGTH:
        return Fault(
            "strength",
            f"{strength:g} is more than {MOST_STRENGTH:g} (is that {strength / 100:.2g}?); write "
            "it as a fraction of the full-strength mix, which is 1",
        )
    return None


def _fault_of_count(column: str, count: int, most: int) -> Fault | None:
    if not 1 <= count <= most:
        return Fault(column, f"{count} is not a whole number from 1 to {most}; count anew")
    return None


def _fault_of_measured(trial: Trial) -> Fault | None:
    """What is wrong with a number that may be left empty."""
    stops = "how many photographic stops the gleam rises above the body"
    asked: dict[str, tuple[float | None, float, str]] = {
        "before_lustre": (trial.before_lustre, MOST_LUSTRE, stops),
        "after_lustre": (trial.after_lustre, MOST_LUSTRE, stops),
        "temperature": (trial.temperature, MOST_CELSIUS, "how warm the workshop was, in °C"),
        "humidity": (trial.humidity, 100.0, "how damp its air was, in %"),
    }
    for column, (value, most, what) in asked.items():
        if value is not None and not math.isfinite(value):
            return Fault(column, f"{value} is not a number that can be used; measure it anew")
        if value is not None and not 0 <= value <= most:
            words = f"{value:g} is outside 0 to {most:g}; write {what}, or leave it empty"
            return Fault(column, words)
    return None


def _fault_of_lab(when: str, lab: tuple[float, ...]) -> Fault | None:
    if len(lab) != 3:
        return Fault(f"{when}_L", "a reading has three values; give L*, a* and b*")
    for axis, value in zip("Lab", lab, strict=True):
        column = f"{when}_{axis}"
        if not math.isfinite(value):
            return Fault(column, f"{value} is not a number that can be used; read the area anew")
        if axis == "L" and not 0 <= value <= 100:
            return Fault(column, f"{value:g} is outside 0 to 100; write L* of CIELAB (D50)")
        if axis != "L" and abs(value) > MOST_CHROMA_AXIS:
            return Fault(
                column,
                f"{value:g} is outside -{MOST_CHROMA_AXIS:g} to {MOST_CHROMA_AXIS:g}; "
                f"write {axis}* of CIELAB (D50)",
            )
    return None
