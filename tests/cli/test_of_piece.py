"""A comparison by command, kept with its gold: plans, strips and the record then know it."""

from pathlib import Path

import pytest

from tests.cli.commands import Run, refused
from tests.cli.picture_files import CARD, NEW, OLD, chart_picture
from tests.screens.app_pages import open_app, open_piece, said, visit
from tonematch.logbook.store import open_logbook
from tonematch.swatchbook import swatch_path

SCENE, LATER = (swatch_path("demo", f"scene-{name}.jpg") for name in ("1", "2-after-1"))
EDGE, FLAT = "burnished edge", "matte flat"


def test_a_comparison_is_kept_with_the_gold_that_it_is_of(run: Run, tmp_path: Path) -> None:
    book = ("--logbook", tmp_path / "book.sqlite")
    photo = chart_picture(tmp_path / "chart.png")
    for zone, tolerance in ((EDGE, 1.5), (FLAT, 3.0)):
        run("pieces", "add", "frame", "--zone", zone, "--tolerance", tolerance, *book)
    areas = ("--card", CARD, "--original", OLD, "--repair", NEW)
    asked = ("compare", photo, *areas, "--piece", "frame", *book)
    told = run(*asked, "--zone", EDGE).out
    assert "tolerance 1.5" in told
    assert f"It is kept with frame, {EDGE}, and so are its photographs." in told
    assert "tolerance 2:" in run("compare", photo, *areas).out
    refused(run(*asked), f"say which zone is meant, of '{EDGE}', '{FLAT}'")
    refused(run("compare", photo, *areas, "--zone", EDGE), "say of which by --piece")
    with open_logbook(tmp_path / "book.sqlite") as logbook:
        edge, flat = logbook.histories("frame")
    assert (len(edge.comparisons), len(edge.photographs)) == (1, 1)
    assert (flat.comparisons, flat.photographs) == ((), ())


def test_a_second_light_is_kept_with_the_comparison(
    run: Run, boxes: dict[str, str], tmp_path: Path
) -> None:
    path = tmp_path / "book.sqlite"
    run("pieces", "add", "frame", "--logbook", path)
    marks = [part for role, box in boxes.items() for part in (f"--{role}", box)]
    lights = (SCENE, "--second-light", LATER)
    ran = run("compare", *lights, *marks, "--piece", "frame", "--logbook", path)
    assert "It is kept with frame, and so are its photographs." in ran.out
    with open_logbook(path) as logbook:
        history = logbook.history("frame")
    assert [photo.file_name for photo in history.photographs] == [SCENE.name, LATER.name]
    assert "Under a second light CIEDE2000" in history.comparisons[0].findings[0]


@pytest.mark.proof
def test_plans_and_the_record_go_by_what_was_compared_last(run: Run, tmp_path: Path) -> None:
    book = ("--logbook", tmp_path / "book.sqlite")
    photo = chart_picture(tmp_path / "chart.png")
    for zone in (EDGE, FLAT):
        run("pieces", "add", "frame", "--zone", zone, *book)
    areas = ("--card", CARD, "--original", OLD, "--repair", NEW)
    run("compare", photo, *areas, "--piece", "frame", "--zone", EDGE, *book)
    # What was compared last is planned for, and of the other gold there is nothing to plan for.
    plan = ("suggest", "--shelf", "raw umber wash", "--layers", "1", "--piece", "frame", *book)
    assert run(*plan, "--zone", EDGE).status == 0
    refused(run(*plan, "--zone", FLAT), f"No comparison of frame, {FLAT} is in the logbook")
    refused(run("suggest", *book), "give both --from and --to")
    record = tmp_path / "record.html"
    run("record", "frame", "--out", record, *book)
    edge_part, flat_part = record.read_text(encoding="utf-8").split('<h1 class="zone">')[1:]
    assert "chart.png" in edge_part
    assert "chart.png" not in flat_part.partition("Where it is kept")[0]


@pytest.mark.proof
def test_the_app_goes_on_from_what_was_compared_by_command(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "book.sqlite"
    run("pieces", "add", "frame", "--logbook", path)
    photo = chart_picture(tmp_path / "chart.png")
    areas = ("--card", CARD, "--original", OLD, "--repair", NEW)
    run("compare", photo, *areas, "--piece", "frame", "--logbook", path)
    monkeypatch.setattr("sys.argv", ["app.py", "--logbook", str(path)])
    app = open_app()
    open_piece(app, "frame")
    assert not visit(app, "Compare").exception
    assert "This comparison and its photograph are in the logbook." in said(app)
    assert not visit(app, "Plan").exception
