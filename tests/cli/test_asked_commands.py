"""What a photograph cannot show is asked before the verdict, a sentence each, and once."""

from pathlib import Path

import numpy as np
import pytest

from tests.cli.commands import Ran, Run, refused
from tests.measure.asked_cases import ASKED, NEAR, STEMS, Asked, as_file, painted


def compared(run: Run, folder: Path, case: Asked, *options: str) -> Ran:
    path = folder / "picture.png"
    path.write_bytes(case.picture())
    boxes = {**case.boxes, **({"other-card": case.other_card} if case.other_card else {})}
    typed = [part for name, box in boxes.items() for part in (f"--{name}", ",".join(map(str, box)))]
    return run("compare", path, *typed, *options)


def asked(ran: Ran) -> list[str]:
    """What is asked before the verdict; nothing is said after it."""
    assert ran.status == 0, ran
    before, verdict, after = ran.out.partition("original: L*")
    assert verdict
    assert "Note:" not in after
    return [line for line in before.splitlines() if any(stem in line for stem in STEMS)]


@pytest.mark.parametrize("name", ASKED)
def test_what_is_wrong_is_asked_once_and_before_the_verdict(
    run: Run, tmp_path: Path, name: str
) -> None:
    (said,) = asked(compared(run, tmp_path, ASKED[name]))
    assert ASKED[name].words in said
    assert said.endswith(".")


def test_nothing_is_asked_of_a_plain_photograph(run: Run, tmp_path: Path) -> None:
    assert asked(compared(run, tmp_path, Asked(lambda: as_file(painted()), ""))) == []


def test_linear_light_is_named_with_its_option_and_by_it_all_is_well(
    run: Run, tmp_path: Path
) -> None:
    dark = ASKED["linear light"]
    ran = compared(run, tmp_path, dark)
    assert "whatever it says (--encoding linear, of 'read' and 'compare')." in ran.out
    assert "(--encoding linear" in " ".join(
        compared(run, tmp_path, dark, "--json").json["warnings"]
    )
    assert asked(compared(run, tmp_path, dark, "--encoding", "linear")) == []
    # Gold of Y 0.5 on a card of 0.18: by sRGB's curve 1.4 and more, refused beyond 2.
    bright = Asked(lambda: as_file(painted((84.0, 8.0, 32.0)), linear=True), "")
    refused(compared(run, tmp_path, bright), "times as bright as white")
    refused(compared(run, tmp_path, bright), "(--encoding linear, of ")
    assert asked(compared(run, tmp_path, bright, "--encoding", "linear")) == []


@pytest.mark.parametrize("linear", [True, False])
def test_three_tones_tell_linear_light(run: Run, tmp_path: Path, linear: bool) -> None:
    tones = {"black": (180, 310, 60, 60), "white": (260, 310, 60, 60)}
    light = np.pad(painted(), ((0, 80), (0, 0), (0, 0)))
    for (x, y, w, h), reflectance in zip(tones.values(), (0.04, 0.9), strict=True):
        light[y : y + h, x : x + w] = reflectance
    case = Asked(lambda: as_file(0.7 * light, linear), "", {**NEAR, **tones})
    ran = compared(run, tmp_path, case)
    assert ("say that the file holds linear light, whatever it says (--" in ran.out) == linear
    assert "linear light: if" not in compared(run, tmp_path, case, "--encoding", "linear").out


def test_what_is_too_dark_in_a_linear_file_names_the_option(run: Run, tmp_path: Path) -> None:
    black = Asked(lambda: as_file(0.3 * painted(), linear=True), "")
    refused(compared(run, tmp_path, black), "The card is too dark to calibrate on")
    refused(compared(run, tmp_path, black), "(--encoding linear, of ")
