"""The camera is remembered: offered in both faces, used where a person chooses it, and said so.

Photographs by the simulated camera, whose contrast no profile tells; the camera's names are
invented.
"""

import sys
from functools import cache
from io import BytesIO
from pathlib import Path

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
from tests.screens.app_pages import open_app, open_piece, press, said, type_areas, visit
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

OFFER = "This camera was measured before: use what was learned then?"
OURS, OTHERS = ("Acme", "One", "9 mm", "3.1"), ("Acme", "One", "9 mm", "3.2")
SQUARE = ((0, 0), (1, 0), (1, 1), (0, 1))
NEUTRALS = {"white": 0.9, "black": 0.05}
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


def day_of(path: Path) -> str:
    with open_logbook(path) as logbook:
        return logbook.history("frame").comparisons[0].made_at[:10]


def on_bench(picture: bytes) -> AppTest:
    """The photograph handed over and marked in the app."""
    app = open_app()
    visit(open_piece(app, "frame"), "Photograph")
    app.file_uploader[0].upload("b.jpg", picture, "image/jpeg").run()
    labels = ("Card", "Original", "Repair")
    return type_areas(app, {label: scene().box(i) for i, label in enumerate(labels)})


def kept(app: AppTest, path: Path, record: Path) -> Comparison:
    """What the app compares and keeps; its record is written."""
    press(app, "Keep it and plan")
    assert not app.exception
    with open_logbook(path) as logbook:
        write_record(logbook.histories("frame"), record)
        return logbook.history("frame").comparisons[-1].comparison


@pytest.mark.proof
def test_the_app_offers_what_was_learned_and_uses_it_where_chosen(
    logbook_file: Path, tmp_path: Path
) -> None:
    day, later, record = day_of(logbook_file), taken(seed=2), tmp_path / "record.html"
    app = on_bench(later)
    (offer,) = (box for box in app.selectbox if box.label == OFFER)
    assert "\\" not in "".join(offer.options)  # plain words as they stand
    assert offer.value == ""
    assert offer.options[0] == "No"
    assert f"{day}: tone curve as the file says, bent to 2 neutrals" in offer.options[1].replace(
        "\\", ""
    )
    offer.set_value(day).run()
    press(app, "Compare the two")
    told = f"The tone curve is remembered from an earlier picture (Acme One, 9 mm, 3.1, {day})."
    assert told in said(app)
    found = kept(app, logbook_file, record)
    alone, with_neutrals = compared(later), compared(later, by_neutrals())
    assert width(with_neutrals) < width(found) < width(alone)
    assert "remembered" not in " ".join(alone.warnings)
    assert f"tone curve remembered from Acme One, 9 mm, 3.1, {day}" in record.read_text("utf-8")


@pytest.mark.proof
def test_the_app_does_without_unless_chosen(logbook_file: Path, tmp_path: Path) -> None:
    later = taken(seed=2)
    app = press(on_bench(later), "Compare the two")
    assert "remembered" not in said(app)
    found = kept(app, logbook_file, tmp_path / "record.html")
    assert found.interval == compared(later).interval


@pytest.mark.proof
def test_another_camera_is_offered_nothing(logbook_file: Path) -> None:
    # It is in the logbook, but on the card alone: that taught nothing.
    assert logbook_file.exists()
    assert [box.label for box in on_bench(taken(OTHERS, 2)).selectbox if box.label == OFFER] == []


def options(path: Path | None = None) -> list[str]:
    boxes = (",".join(f"{side:g}" for side in scene().box(i)) for i in range(3))
    named = zip(("card", "original", "repair"), boxes, strict=True)
    where = [] if path is None else [f"--logbook={path}"]
    return [*(f"--{role}={box}" for role, box in named), *where, "--json"]


def test_the_command_line_tells_of_it_and_uses_it_where_asked(
    run: Run, logbook_file: Path, tmp_path: Path
) -> None:
    day, later = day_of(logbook_file), tmp_path / "later.jpg"
    later.write_bytes(taken(seed=2))
    alone = run("compare", later, *options())
    assert alone.err == ""
    hinted = run("compare", later, *options(logbook_file))
    assert hinted.json == alone.json
    assert hinted.err.startswith("later.jpg: this camera was measured on")
    assert f"--remembered {day} uses what was learned then" in hinted.err
    used = run("compare", later, *options(logbook_file), f"--remembered={day}")
    assert used.err == ""
    assert "is remembered from an earlier picture" in " ".join(used.json["warnings"])
    widths = [np.ptp(ran.json["interval_95"]) for ran in (used, alone)]
    assert widths[0] < widths[1]


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
    boxes = [",".join(f"{side:g}" for side in scene().box(i)) for i in (0, 3, 4)]
    greys = [f"--neutral={b}={share}" for b, share in zip(boxes[1:], (0.9, 0.05), strict=True)]
    saved = run("profile", first, f"--card={boxes[0]}", *greys, f"--out={profile}")
    assert saved.out.startswith("tone curve as the file says, bent to 2 neutrals; written to")
    later.write_bytes(taken(OTHERS, 2))
    used = run("compare", later, *options(), f"--camera-profile={profile}")
    alone = run("compare", later, *options())
    assert np.ptp(used.json["interval_95"]) < np.ptp(alone.json["interval_95"])
    warned = " ".join(used.json["warnings"])
    assert "made with Acme One, 9 mm, 3.1 and the picture with Acme One, 9 mm, 3.2" in warned
