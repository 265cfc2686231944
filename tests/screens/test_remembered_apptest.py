"""The camera is remembered: offered in both faces, used where a person chooses it, and said so.

Photographs by the simulated camera, whose contrast no profile tells; the camera's names are
invented.
"""

import sys
from collections.abc import Sequence
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import ExifTags, Image
from streamlit.testing.v1 import AppTest

from tests.cli.commands import Run, refused
from tests.measure.simulated_camera import (
    SIDE,
    Conditions,
    Scene,
    chart,
    neutral,
    photograph,
    random_pair,
)
from tests.screens.app_pages import as_read, open_app, open_piece, press, said, type_areas, visit
from tonematch.logbook.core import Piece
from tonematch.logbook.store import open_logbook
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import CARD_ALONE, Aids
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.calibration.chart import chart_at
from tonematch.measure.core import Area, Comparison, Role
from tonematch.measure.marked import Marked, compare_marked
from tonematch.photo.decode import load_photo
from tonematch.record.document import write_record

OFFER = "Acme One, 9 mm, 3.1 was measured before: use what was learned then?"
OURS, OTHERS = ("Acme", "One", "9 mm", "3.1"), ("Acme", "One", "9 mm", "3.2")
SQUARE = ((0, 0), (1, 0), (1, 1), (0, 1))
NEUTRALS = {"white": 0.9, "black": 0.04}
"""What white and black cards are assumed to reflect where nobody said."""
BLANK = neutral(0.4)


@cache
def scene() -> Scene:
    old, new = random_pair(np.random.default_rng(5), 8.0, mottling=0.0)
    return Scene([neutral(0.18), old, new, *map(neutral, NEUTRALS.values()), BLANK, *chart()], 6)


@cache
def taken(camera: tuple[str, ...] = OURS, seed: int = 1) -> bytes:
    """A photograph by a camera with make, model, lens and software, all its own contrast."""
    rng = np.random.default_rng(seed)
    plain = photograph(scene(), Conditions(lamp="A", exponent=1.15, quality=95), rng)
    exif, out = Image.Exif(), BytesIO()
    exif[ExifTags.Base.Make], exif[ExifTags.Base.Model], lens, software = camera
    exif[ExifTags.Base.Software] = software
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.LensModel] = lens
    with Image.open(BytesIO(plain)) as picture:
        picture.save(out, "JPEG", quality="keep", exif=exif)
    return out.getvalue()


def by_neutrals() -> Aids:
    named = enumerate(NEUTRALS.items(), start=3)
    return Aids(tuple((box_area(name, scene().box(i)), share) for i, (name, share) in named))


def by_chart() -> Aids:
    corners = [(6.0 * SIDE * across, SIDE * (1 + 4.0 * down)) for across, down in SQUARE]
    return Aids(chart=chart_at(load_photo(taken(), "a.jpg"), corners))


def compared(picture: bytes, aids: Aids = CARD_ALONE) -> Comparison:
    roles: tuple[Role, ...] = ("card", "original", "repair")
    areas: dict[str, Area] = {
        role: box_area(role, scene().box(i), role) for i, role in enumerate(roles)
    }
    marked = Marked(load_photo(picture, "a.jpg"), areas, aids)
    return compare_marked(marked, marked, usual_card(), 2.0)


def width(comparison: Comparison) -> float:
    return comparison.interval[1] - comparison.interval[0]


@pytest.fixture
def logbook_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A logbook with a reading by neutrals, and one on the card alone by another camera."""
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    with open_logbook(path) as logbook:
        logbook.add_piece(Piece("frame"))
        for picture, aids in ((taken(), by_neutrals()), (taken(OTHERS), CARD_ALONE)):
            sha256 = logbook.keep_photo(picture, "a.jpg", "frame")
            logbook.keep_comparison("frame", compared(picture, aids), {sha256: aids})
    return path


@pytest.fixture
def usual(persons_folder: Path) -> Path:
    """A logbook at its usual place, with a piece and nothing else."""
    with open_logbook() as logbook:
        logbook.add_piece(Piece("frame"))
    return persons_folder / "logbook.sqlite"


def day_of(path: Path) -> str:
    with open_logbook(path) as logbook:
        return logbook.history("frame").comparisons[0].made_at[:10]


def on_bench(picture: bytes, beside: Sequence[str] = ()) -> AppTest:
    """The photograph handed over and marked in the app, with the cards beside the grey one."""
    app = open_app()
    visit(open_piece(app, "frame"), "Photograph")
    app.file_uploader[0].upload("b.jpg", picture, "image/jpeg").run()
    labels = ("Card", "Original", "Repair", *beside)
    return type_areas(app, {label: scene().box(i) for i, label in enumerate(labels)})


def kept(app: AppTest, path: Path, record: Path) -> Comparison:
    """What the app compares and keeps; its record is written."""
    press(app, "Keep it and plan")
    assert not app.exception
    with open_logbook(path) as logbook:
        write_record(logbook.histories("frame"), record)
        return logbook.history("frame").comparisons[-1].comparison


def offers(app: AppTest) -> list[Any]:
    """What is offered of a camera, as a person reads it."""
    return [box for box in app.selectbox if "was measured before" in box.label]


@pytest.mark.proof
def test_what_one_picture_taught_is_offered_for_the_next_by_name_and_day(
    usual: Path, tmp_path: Path
) -> None:
    later, record = taken(seed=2), tmp_path / "record.html"
    first = on_bench(taken(), ("White card", "Black card"))
    assert offers(first) == []
    taught = kept(press(first, "Compare the two"), usual, record)

    app = on_bench(later)
    (offer,) = offers(app)
    day = day_of(usual)
    assert as_read(offer.label) == OFFER
    assert offer.value == ""
    assert offer.options == ["No", f"{day}: tone curve as the file says, bent to 2 neutrals"]
    press(app, "Compare the two")
    assert "remembered" not in said(app)
    assert kept(app, usual, record).interval == compared(later).interval

    app = on_bench(later)
    offers(app)[0].set_value(day).run()
    press(app, "Compare the two")
    told = f"The tone curve is remembered from an earlier picture (Acme One, 9 mm, 3.1, {day})."
    assert told in said(app)
    assert width(taught) < width(kept(app, usual, record)) < width(compared(later))
    assert f"tone curve remembered from Acme One, 9 mm, 3.1, {day}" in record.read_text("utf-8")

    assert offers(on_bench(taken(OTHERS, 2))) == []


@pytest.mark.proof
def test_another_camera_is_offered_nothing(logbook_file: Path) -> None:
    # It is in the logbook, but on the card alone: that taught nothing.
    assert logbook_file.exists()
    assert offers(on_bench(taken(OTHERS, 2))) == []


def box_of(i: int) -> str:
    """A field of the scene as the command line takes it."""
    return ",".join(f"{side:g}" for side in scene().box(i))


def options(path: Path | None = None) -> list[str]:
    named = enumerate(("card", "original", "repair"))
    where = [] if path is None else [f"--logbook={path}"]
    return [*(f"--{role}={box_of(i)}" for i, role in named), *where, "--json"]


def test_the_command_line_offers_what_the_usual_logbook_remembers(
    run: Run, usual: Path, tmp_path: Path
) -> None:
    first, later, other = (tmp_path / f"{name}.jpg" for name in ("first", "later", "other"))
    first.write_bytes(taken())
    later.write_bytes(taken(seed=2))
    other.write_bytes(taken(OTHERS, 2))
    tones = [f"--{name}={box_of(i)}" for i, name in enumerate(NEUTRALS, start=3)]
    alone = run("compare", later, *options()).json
    assert run("compare", first, *options(), *tones, "--piece=frame").status == 0
    day = day_of(usual)
    offer = (
        f"later.jpg: Acme One, 9 mm, 3.1 was measured on {day} (tone curve as the file says, bent "
        f"to 2 neutrals); --remembered {day} uses what was learned then."
    )
    offered = run("compare", later, *options()).json
    assert [one for one in offered["warnings"] if one not in alone["warnings"]] == [offer]
    assert offered | {"warnings": []} == alone | {"warnings": []}
    assert f"Note: {offer}\n" in run("read", later, *options()[:1], f"--area=old={box_of(1)}").out
    used = run("compare", later, *options(), f"--remembered={day}").json
    assert "is remembered from an earlier picture" in " ".join(used["warnings"])
    assert offer not in used["warnings"]
    assert np.ptp(used["interval_95"]) < np.ptp(alone["interval_95"])
    assert "measured on" not in run("compare", other, *options()).out


def test_a_logbook_that_cannot_be_opened_keeps_nobody_from_reading(
    run: Run, persons_folder: Path, tmp_path: Path
) -> None:
    picture, damaged = tmp_path / "a.jpg", persons_folder / "logbook.sqlite"
    picture.write_bytes(taken())
    alone = run("compare", picture, *options()).json
    assert not persons_folder.exists()  # a look for a logbook makes none
    persons_folder.mkdir(parents=True)
    damaged.write_text("no logbook")
    found = run("compare", picture, *options()).json
    told = [one for one in found["warnings"] if one not in alone["warnings"]]
    assert [one.startswith("Whether this camera was measured before is not known") for one in told]
    assert found["interval_95"] == alone["interval_95"]


def test_of_one_day_the_chart_is_remembered_with_its_colours(
    run: Run, logbook_file: Path, tmp_path: Path
) -> None:
    later, curve = tmp_path / "later.jpg", by_neutrals()
    later.write_bytes(taken(seed=2))
    with open_logbook(logbook_file) as logbook:
        for aids in (by_chart(), curve):
            picture = compared(taken(), aids)
            logbook.keep_comparison("frame", picture, {picture.original.photo_sha256: aids})
    used = run("compare", later, *options(logbook_file), f"--remembered={day_of(logbook_file)}")
    assert "Tone curve and colours are remembered" in " ".join(used.json["warnings"])


def test_a_camera_or_a_day_that_nothing_is_known_of_is_one_sentence(
    run: Run, logbook_file: Path, tmp_path: Path
) -> None:
    day, picture = day_of(logbook_file), tmp_path / "b.jpg"
    picture.write_bytes(taken(OTHERS))
    words = "The logbook knows no picture of Acme One, 9 mm, 3.2 with neutrals or a chart"
    refused(run("compare", picture, *options(logbook_file), f"--remembered={day}"), words)
    picture.write_bytes(taken())
    ran = run("compare", picture, *options(logbook_file), "--remembered=2001-01-01")
    refused(ran, f"from 2001-01-01: it knows those of {day}.")
    both = (f"--remembered={day}", "--camera-profile=c.json")
    refused(run("compare", picture, *options(), *both), "--camera-profile or --remembered")


def test_a_profile_by_neutrals_helps_and_warns_of_another_camera(run: Run, tmp_path: Path) -> None:
    first, later, profile = tmp_path / "a.jpg", tmp_path / "b.jpg", tmp_path / "c.json"
    first.write_bytes(taken())
    greys = [f"--neutral={box_of(i)}={share}" for i, share in enumerate(NEUTRALS.values(), start=3)]
    saved = run("profile", first, f"--card={box_of(0)}", *greys, f"--out={profile}")
    assert "is written (tone curve as the file says, bent to 2 neutrals)" in saved.out
    later.write_bytes(taken(OTHERS, 2))
    used = run("compare", later, *options(), f"--camera-profile={profile}")
    alone = run("compare", later, *options())
    assert np.ptp(used.json["interval_95"]) < np.ptp(alone.json["interval_95"])
    warned = " ".join(used.json["warnings"])
    assert "made with Acme One, 9 mm, 3.1 and the picture with Acme One, 9 mm, 3.2" in warned
