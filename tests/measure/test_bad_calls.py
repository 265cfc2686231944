"""Whatever file and boxes `read` and `compare` are given: an answer, or one sentence and exit 2.

Cases by hypothesis, some of every kind of damage, box and value, through the command line's own
function. The file that was given is the same afterwards, byte for byte.
"""

import json
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.cases import shared_by
from tests.measure.painted import GREY, encode, painted_light
from tonematch.cli.commands import run

CARD, OLD, NEW = "5,5,40,40", "60,10,50,50", "125,10,50,50"
FORMATS = ("JPEG", "PNG", "TIFF")
DAMAGES = ("cut", "overwritten", "inserted", "left out")
STARTS = (b"", b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"MM\x00*", b"GIF89a",
          b"RIFF", b"\x00\x00\x00\x18ftypheic", b"%PDF-1.7")  # fmt: skip


@cache
def picture(kind: str, mode: str = "RGB") -> bytes:
    """A good photograph of 200 by 120 pixels: card, old gold, new gold."""
    fields = {
        (5, 5, 40, 40): GREY,
        (60, 10, 50, 50): (60.0, 8.0, 30.0),
        (125, 10, 50, 50): (64.0, 8.0, 33.0),
    }
    codes = encode(painted_light(fields, (200, 120), noise=0.02), 8)
    file = BytesIO()
    Image.fromarray(codes).convert(mode).save(file, format=kind)
    return file.getvalue()


@dataclass(frozen=True)
class Outcome:
    """What a call printed and returned."""

    status: int
    out: str
    err: str


def call(*arguments: str) -> Outcome:
    """Run the command line in this process."""
    out, err = StringIO(), StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = run(list(arguments))
    return Outcome(status, out.getvalue(), err.getvalue())


def check(outcome: Outcome) -> None:
    """An answer, or one sentence and exit 2."""
    if outcome.status == 0:
        assert json.loads(outcome.out)
        assert outcome.err == ""
        return
    assert outcome.status == 2
    assert outcome.out == ""
    said = outcome.err.strip()
    assert said.endswith(".")
    assert "\n" not in said
    assert "Traceback" not in said


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of this module's own."""
    return tmp_path_factory.mktemp("bad calls")


def compare_file(path: Path, content: bytes) -> Outcome:
    """Write a file, compare on it, and see that it was not touched."""
    path.write_bytes(content)
    outcome = call("compare", str(path), f"--card={CARD}", f"--original={OLD}", f"--repair={NEW}",
                   "--json")  # fmt: skip
    assert path.read_bytes() == content
    return outcome


@pytest.mark.parametrize("kind", FORMATS)
def test_the_good_photograph_is_compared(kind: str, folder: Path) -> None:
    outcome = compare_file(folder / f"good.{kind.lower()}", picture(kind))
    check(outcome)
    assert outcome.status == 0
    # CIEDE2000 of the two painted golds is 3.6 (colour-science); the JPEG moves it a little.
    assert json.loads(outcome.out)["delta_e_2000"] == pytest.approx(3.6, abs=0.3)


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("how", DAMAGES)
@shared_by(len(FORMATS) * len(DAMAGES))
@given(place=st.floats(0, 1, exclude_max=True), junk=st.binary(min_size=1, max_size=16))
def test_damaged_files(folder: Path, kind: str, how: str, place: float, junk: bytes) -> None:
    content = picture(kind)
    # Headers and tags are as often damaged as pictures, though they are small.
    at = int(place * 400) if len(junk) % 2 else int(place * len(content))
    after = {"cut": b"", "overwritten": junk + content[at + len(junk) :],
             "inserted": junk + content[at:], "left out": content[at + len(junk) :]}  # fmt: skip
    check(compare_file(folder / "damaged.jpg", content[:at] + after[how]))


@pytest.mark.parametrize("start", STARTS)
@shared_by(len(STARTS))
@given(rest=st.binary(max_size=300))
def test_files_that_are_no_picture(folder: Path, start: bytes, rest: bytes) -> None:
    outcome = compare_file(folder / "unknown.jpg", start + rest)
    check(outcome)
    assert outcome.status == 2


@pytest.mark.parametrize(("kind", "mode"), [("JPEG", "L"), ("JPEG", "CMYK"), ("GIF", "P"),
                                            ("PNG", "L"), ("TIFF", "CMYK")])  # fmt: skip
def test_pictures_that_are_not_rgb(kind: str, mode: str, folder: Path) -> None:
    outcome = compare_file(folder / "other.jpg", picture(kind, mode))
    check(outcome)
    assert outcome.status == 2


sides = st.one_of(
    st.integers(-30, 260).map(str),
    st.floats(-1e3, 1e3).map(str),
    st.sampled_from(("nan", "inf", "-inf", "1e308", "1e-308", "", " ", "x", "5 5", "0", "-0.0")),
)
good_boxes = st.sampled_from((CARD, OLD, NEW))
inside_boxes = st.tuples(
    st.floats(0, 180), st.floats(0, 100), st.floats(0.1, 60), st.floats(0.1, 60)
).map(lambda box: ",".join(f"{value:.4g}" for value in box))
narrow_boxes = st.tuples(
    st.integers(0, 180), st.integers(0, 100), st.integers(1, 40), st.integers(1, 4), st.booleans()
).map(lambda box: ",".join(map(str, box[:4] if box[4] else (*box[:2], box[3], box[2]))))
BOXES: dict[str, st.SearchStrategy[str]] = {
    "good": good_boxes,
    "inside": inside_boxes,
    "narrow": narrow_boxes,
    "any four sides": st.lists(sides, min_size=4, max_size=4).map(",".join),
    "any sides": st.lists(sides, max_size=6).map(",".join),
    "text": st.text(max_size=12).filter(lambda text: "\x00" not in text),
}
ROLES = {"card": CARD, "original": OLD, "repair": NEW}


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("kind", BOXES)
@shared_by(len(BOXES) * len(ROLES))
@given(data=st.data())
def test_boxes(folder: Path, kind: str, role: str, data: st.DataObject) -> None:
    """One of the three is anything; the two others are good, so that it is met."""
    path = folder / "boxes.png"
    path.write_bytes(picture("PNG"))
    marked = ROLES | {role: data.draw(BOXES[kind])}
    marks = [f"--{each}={box}" for each, box in marked.items()]
    check(call("compare", str(path), *marks, "--json"))
    assert path.read_bytes() == picture("PNG")


names = st.text(max_size=8).filter(lambda text: "\x00" not in text)


@pytest.mark.parametrize("equals", ["=", "", ":"])
@shared_by(3)
@given(areas=st.lists(st.tuples(names, st.one_of(*BOXES.values())), max_size=4))
def test_named_areas(folder: Path, areas: list[tuple[str, str]], equals: str) -> None:
    path = folder / "areas.png"
    path.write_bytes(picture("PNG"))
    given_areas = [f"--area={name}{equals}{box}" for name, box in areas]
    check(call("read", str(path), f"--card={CARD}", *given_areas, "--json"))
    assert path.read_bytes() == picture("PNG")


numbers = st.one_of(
    st.floats().map(str), st.integers(-3, 120).map(str), st.sampled_from(("", "one", "1,5", "0x1"))
)


@pytest.mark.parametrize("option", ["--tolerance", "--card-reflectance", "--card-lab", "--card2"])
@shared_by(4)
@given(values=st.lists(numbers, min_size=1, max_size=4))
def test_values(folder: Path, option: str, values: list[str]) -> None:
    path = folder / "values.png"
    path.write_bytes(picture("PNG"))
    check(call("compare", str(path), f"--card={CARD}", f"--original={OLD}", f"--repair={NEW}",
               f"{option}={','.join(values)}", "--json"))  # fmt: skip


@pytest.mark.parametrize("place", ["none.jpg", ".", "none/none.jpg", "x" * 300, "a\x00b.jpg"])
def test_paths_that_hold_no_file(folder: Path, place: str) -> None:
    outcome = call("compare", str(folder / place), f"--card={CARD}", f"--original={OLD}",
                   f"--repair={NEW}", "--json")  # fmt: skip
    check(outcome)
    assert outcome.status == 2
