"""A surface that was toned too far: taking back is proposed, told, logged and learned.

What comes off by what, and that only what lies on top does, is common practice, no source; that
water lifts water gilding that nothing isolates: Rivers and Umney, Conservation of Furniture.
"""

import re
from pathlib import Path

import pytest

from tests.cli.commands import Run, refused

HEAD = (
    "piece,technique,finish,step,layer,kind,strength,coats,"
    "before_L,before_a,before_b,after_L,after_a,after_b\n"
)
SEALED = "frame,water,burnished,1,clear shellac seal,,1,1,84,8,35,83.6,8,35.4\n"
WASHED = "frame,water,burnished,2,raw umber wash,,0.5,1,83.6,8,35.4,70,9,31\n"
LIFT = "raw umber wash, taken back"
LIFTED = f'frame,water,burnished,3,"{LIFT}",lift,1,1,70,9,31,82.9,8.1,35\n'


def in_logbook(run: Run, folder: Path, *rows: str) -> tuple[str, ...]:
    file = folder / "trials.csv"
    file.write_text(HEAD + "".join(rows))
    book = str(folder / "logbook.sqlite")
    assert run("trials", "import", file, "--logbook", book).status == 0
    return "--logbook", book


def test_a_piece_that_was_toned_too_far_is_told_to_take_it_back(run: Run, tmp_path: Path) -> None:
    book = in_logbook(run, tmp_path, SEALED, WASHED)
    asked = ("suggest", *book, "--from", "70,9,31", "--to", "83,8,35", "--json")
    told = run(*asked, "--piece", "frame", "--technique", "water").json["plans"][0]
    step = told["steps"][0]
    assert step["layer"] == LIFT
    # Towards what was read before the wash was laid, less a stain.
    L, _, _ = step["lab"]
    assert 77.0 < L < 83.6
    # Where nobody read that, it is guessed, and there is far less to count on.
    there = ("--laid", "clear shellac seal", "--laid", "raw umber wash")
    typed = run(*asked, *there, "--technique", "water").json["plans"][0]
    assert told["chance_with_new_plans"] > 0.3 > 2.0 * typed["chance_with_new_plans"]


def test_nothing_is_taken_back_from_under_a_seal_that_hardens(run: Run, tmp_path: Path) -> None:
    book = in_logbook(run, tmp_path, SEALED, WASHED)
    told = run(
        "suggest", *book, "--from", "70,9,31", "--to", "83,8,35", "--laid", "raw umber wash",
        "--laid", "dammar seal",
    ).out  # fmt: skip
    assert "taken back" not in told


def test_water_is_not_told_to_take_back_a_wash_on_unsealed_water_gilding(
    run: Run, tmp_path: Path
) -> None:
    book = in_logbook(run, tmp_path, SEALED, WASHED)
    gap = ("suggest", *book, "--from", "70,9,31", "--to", "83,8,35", "--technique", "water")
    wash = ("--laid", "raw umber wash")
    assert "take back" in run(*gap, "--laid", "clear shellac seal", *wash).out
    told = run(*gap, *wash).out
    assert "take back" not in told
    assert "look at the leaf" in " ".join(told.split())


def test_what_was_taken_back_is_kept_and_learned(run: Run, tmp_path: Path) -> None:
    book = in_logbook(run, tmp_path, SEALED, WASHED, LIFTED)
    assert f"{LIFT} (lift)" in run("trials", "list", *book).out
    # The wash is off: it can be laid again, and is not there to be taken back.
    again = run(
        "predict", *book, "--piece", "frame", "--from", "82.9,8.1,35", "--layer", f"{LIFT}:1"
    )
    assert "Only what lies on top comes off" in again.out
    assert "Clear shellac seal" in again.out or "clear shellac seal" in again.out
    # Another piece: how clean it comes off is known now.
    there = ("--laid", "clear shellac seal", "--laid", "raw umber wash")
    other = run("predict", *book, "--from", "70,9,31", *there, "--layer", f"{LIFT}:1").out
    assert "No trial has taught" not in other


@pytest.mark.parametrize(
    ("there", "why"),
    [
        (("raw umber wash", "clear shellac seal"), "Only what lies on top comes off"),
        (("raw umber wash",), "lifts water gilding that no isolating coat protects"),
    ],
)
def test_what_may_not_be_taken_back_is_said(
    run: Run, tmp_path: Path, there: tuple[str, ...], why: str
) -> None:
    book = in_logbook(run, tmp_path, SEALED, WASHED)
    laid = [word for name in there for word in ("--laid", name)]
    told = run(
        "predict", *book, "--from", "70,9,31", "--technique", "water", *laid, "--layer", f"{LIFT}:1"
    ).out
    assert "Do not lay this" in told
    assert why in told


def test_a_layer_that_was_taken_back_is_not_said_to_lie_there(run: Run, tmp_path: Path) -> None:
    dusted = "frame,water,burnished,4,rottenstone dust,,0.5,1,82.9,8.1,35,81,8,32\n"
    book, out = in_logbook(run, tmp_path, SEALED, WASHED, LIFTED, dusted), tmp_path / "record.html"
    assert run("record", "frame", *book, "--out", out).status == 0
    record = " ".join(re.sub("<[^>]*>", " ", out.read_text().split("</style>")[1]).split())
    lies, rest = record.split("What lies on it, and how it comes off")[1].split("Condition, and")
    assert "clear shellac seal" in lies
    assert "wash" not in lies
    # It was laid, and its mix is told; how it would come off is not.
    materials = rest.split("Materials")[1]
    assert re.search("raw umber wash .*? taken back rottenstone dust", materials)
    assert "by laying it again" not in record
    # An owner is told to dust, and not where a brush takes the toning off.
    assert "soft dry brush; no cloth, no cleaner, no polish, no oil. But keep the brush off" in lies


def test_what_white_spirit_and_wax_do_beneath_is_said(run: Run, trial_file: Path) -> None:
    told = run(
        "predict", "--trials", trial_file, "--from", "70,8,28", "--laid", "dark wax",
        "--layer", "dark wax, taken back:1",
    ).out  # fmt: skip
    assert "takes a resin seal or a young oil glaze beneath with it" in told
    assert "Nothing holds over wax that is left" in told


def test_a_lift_is_named_after_what_it_takes_back(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "trials.csv"
    file.write_text(HEAD + SEALED + LIFTED.replace(LIFT, "wiped down"))
    refused(
        run("trials", "import", file, "--logbook", tmp_path / "logbook.sqlite"),
        "a lift is named after what it takes back",
    )


def test_a_glaze_that_went_too_far_is_wiped_off_while_it_is_fresh(
    run: Run, trial_file: Path
) -> None:
    lighter = ("suggest", "--trials", trial_file, "--from", "70,8,28", "--to", "78,8,33")
    told = " ".join(run(*lighter, "--laid", "raw umber glaze").out.split())
    assert "unless raw umber glaze is fresh and still comes off (white spirit for the fi" in told
    assert "unless" not in run(*lighter, "--laid", "rub to bole").out


def test_taking_back_what_hardens_is_warned_of(run: Run, trial_file: Path) -> None:
    asked = ("predict", "--trials", trial_file, "--from", "70,8,28", "--technique", "oil")
    for layer, hardens in (("raw umber glaze", True), ("raw umber wash", False)):
        told = run(*asked, "--laid", layer, "--layer", f"{layer}, taken back:1").out
        assert (f"nothing that takes {layer} back once it is dry: white spirit" in told) is hardens
