"""Two golds on one piece, toned in turn in the app; the command line tells of both."""

import sys
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.cli.commands import Run, refused
from tests.screens.app_pages import (
    ShownRuler,
    as_read,
    demo_boxes,
    hand_over,
    open_app,
    open_piece,
    press,
    rows,
    ruler,
    said,
    type_areas,
    visit,
)
from tonematch.logbook.store import open_logbook

AFTER = "scene-2-after-1.jpg"
EDGE, FLAT = "burnished edge", "matte flat"


def _write(app: AppTest, label: str, text: str) -> None:
    next(t for t in app.text_input if t.label == label).set_value(text)


def _answer(app: AppTest, label: str, form: int, answer: str) -> None:
    [r for r in app.radio if r.label == label][form].set_value(answer)


def _take(app: AppTest, zone: str, piece: str = "hall mirror") -> AppTest:
    open_piece(visit(app, "Today"), piece, zone)
    assert not app.exception
    return app


def _stands(app: AppTest) -> list[str]:
    """What the page Today says of each piece and zone."""
    visit(app, "Today")
    titles = [as_read(element.value) for element in app.subheader]
    words = [element.value for element in app.markdown][: len(titles)]
    return [f"{title}: {as_read(said)}" for title, said in zip(titles, words, strict=True)]


def _compare_and_lay(app: AppTest, picture: str, layer: str) -> tuple[str, ShownRuler]:
    """Gives what the plan page says."""
    type_areas(hand_over(app, picture), demo_boxes(picture))
    press(app, "Compare the two")
    press(app, "Keep it and plan")
    assert not app.exception
    planned = said(app), ruler(app)
    visit(app, "Lay a layer")
    next(s for s in app.selectbox if s.label == "Layer").set_value(layer).run()
    press(app, "I have laid it")
    assert not app.exception
    return planned


@pytest.mark.proof
def test_two_golds_toned_in_turn_are_never_mixed_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run
) -> None:
    path = tmp_path / "logbook.sqlite"
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    app = open_app()
    _write(app, "Name", "hall mirror")
    _answer(app, "How it is gilded", 0, "water gilding, burnished")
    press(app, "Add this piece")
    edge_plan, _ = _compare_and_lay(app, "scene-1.jpg", "clear shellac seal")
    # One gold, and nothing asked of it; now a second, and the first is named with it.
    (stands,) = _stands(app)
    assert stands.startswith("hall mirror: Clear shellac seal drying until ")
    visit(app, "Piece")
    _write(app, "Name of the gold described so far", EDGE)
    _answer(app, "Gilding technique", 1, "oil")
    _answer(app, "Finish", 1, "matte")
    press(app, "Add this gold")
    assert "Two golds on one piece need a name each" in said(app)
    _write(app, "Name of the other gold", FLAT)
    press(app, "Add this gold")
    assert not app.exception
    flat_line, edge_line = _stands(app)  # what can be done now comes before what dries
    assert flat_line == f"hall mirror, {FLAT}: Not yet photographed"
    assert edge_line.startswith(f"hall mirror, {EDGE}: Clear shellac seal drying until ")
    visit(app, "Photograph")
    # One picture may show them all: it is there still, to be marked anew.
    assert [n.value for n in app.number_input if n.label == "Original, width (px)"] == [None]
    flat_plan, flat_ruler = _compare_and_lay(app, "scene-3.jpg", "dark wax")
    assert edge_plan != flat_plan
    assert "On the repair now: nothing yet." in flat_plan
    # Each dries by itself; the edge is photographed, and the flat waits on.
    _take(app, EDGE)
    visit(app, "Lay a layer")
    assert "Clear shellac seal laid on" in app.subheader[0].value
    type_areas(hand_over(app, AFTER), demo_boxes(AFTER))
    press(app, "Log this layer")
    assert f"On the bench: hall mirror, {EDGE}" in said(app)
    assert "On the repair now: clear shellac seal." in said(app)
    edge_now = ruler(app)
    visit(_take(app, FLAT), "Plan")
    assert "On the repair now: nothing yet." in said(app)
    assert ruler(app) == flat_ruler != edge_now
    assert "Dark wax laid on" in visit(app, "Lay a layer").subheader[0].value
    assert app.query_params == {"room": "Lay a layer", "piece": "hall mirror", "zone": FLAT}
    (told,) = rows(visit(app, "Logbook")).values()
    assert f"hall mirror, {EDGE}" in told
    _told_by_the_command_line(run, path, tmp_path)


def _told_by_the_command_line(run: Run, path: Path, tmp_path: Path) -> None:
    book = ("--logbook", path)
    assert f"hall mirror, {EDGE}: gilding water, burnished" in run("pieces", "list", *book).out
    asked = ("predict", "--from", "80,6,33", "--layer", "raw umber wash:0.5", *book)
    on = ("--piece", "hall mirror", "--zone")
    # A seal lies on the edge; on the bare flat the wash meets oil gilding.
    edge, flat = (run(*asked, *on, zone, "--json").json["findings"] for zone in (EDGE, FLAT))
    assert "Oil gilding takes nothing" in " ".join(one["words"] for one in flat)
    assert "Oil gilding" not in " ".join(one["words"] for one in edge)
    suggested = ("suggest", "--from", "80,6,33", "--to", "70,7,30", "--layers", "1", *book)
    plans = [run(*suggested, *on, zone).out for zone in (EDGE, FLAT)]
    assert "Stop here: no layer brings it visibly nearer." in plans[0]  # a clear seal was tried
    assert plans[0] != plans[1]
    refused(run(*asked, *on[:2]), f"say which zone is meant, of '{EDGE}', '{FLAT}'")
    refused(run(*asked, *on, "mat flat"), f"the nearest names are '{FLAT}', '{EDGE}'")
    refused(run(*asked, "--zone", FLAT), "say of which by --piece")
    said_of_edge = run("trials", "list", *on, EDGE, *book).out
    assert f"hall mirror, {EDGE}, " in said_of_edge
    assert "clear shellac seal (seal)" in said_of_edge
    assert run("trials", "list", *on, FLAT, *book).out.startswith("No trial of 1 ")
    table = tmp_path / "trials.csv"
    run("trials", "export", table, *book)
    assert f",{EDGE}" in table.read_text(encoding="utf-8")
    assert run("trials", "import", table, *book).out.startswith("0 of 1 trials added")
    assert (
        "1 of 1 trials added" in run("trials", "import", table, "--logbook", tmp_path / "new").out
    )
    record = tmp_path / "record.html"
    run("record", "hall mirror", "--out", record, *book)
    text = record.read_text(encoding="utf-8")
    assert "Still open" in text
    body = text.partition("Where it is kept")[0]  # then come the files of both
    edge_part, flat_part = body.split('<h1 class="zone">')[1:]
    for part, name, own, other in (
        (edge_part, EDGE, "clear shellac seal", "dark wax"),
        (flat_part, FLAT, "dark wax", "clear shellac seal"),
    ):
        assert part.startswith(name)
        assert f"{own} (" in part
        assert f"{other} (" not in part
    assert "scene-2-after-1.jpg" in edge_part
    assert "scene-3.jpg" in flat_part
    assert "scene-1.jpg" not in flat_part
    with open_logbook(path) as logbook:
        assert all(history.proposals for history in logbook.histories("hall mirror"))
    # Another layer in a trial's place is held against what lies on its own gold.
    told = run("trials", "put-right", "1", "--layer", "raw umber wash", *book)
    assert f"Trial 1 (put right), hall mirror, {EDGE}" in told.out
    with open_logbook(path) as logbook:
        (edge_trial,) = logbook.kept_trials("hall mirror", zone=EDGE)
    assert "no isolating" in " ".join(edge_trial.cautions)


@pytest.mark.proof
def test_golds_are_added_by_command_and_renamed_in_the_app(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run
) -> None:
    path = tmp_path / "logbook.sqlite"
    book = ("--logbook", path)
    run("pieces", "add", "frame", "--hangs-in", "hall", "--finish", "burnished", *book)
    flat = ("pieces", "add", "frame", "--zone", FLAT, "--finish", "matte", *book)
    refused(run(*flat), "each needs a name: name the one that has none first")
    refused(run("pieces", "gilding", "frame", "--zone", FLAT, *book), "for it is one gold")
    assert f"frame, {EDGE}." in run("pieces", "gilding", "frame", "--call", EDGE, *book).out
    assert f"frame, {FLAT} is in the logbook." in run(*flat).out
    refused(run(*flat), f"frame has a zone '{FLAT}' already")
    assert run("pieces", "list", *book).out.splitlines()[-1] == "Pieces: 1."
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    app = open_app()
    visit(_take(app, FLAT, "frame"), "Piece")
    assert "Hangs in: hall." in said(app)
    _write(app, "Name of this gold", "lower rail")
    press(app, "Keep the changes")
    assert not app.exception
    assert [stands.split(": ")[0] for stands in _stands(app)] == [
        f"frame, {EDGE}",
        "frame, lower rail",
    ]
    told = run("pieces", "gilding", "frame", "--zone", "lower rail", *book).out
    assert "Gilding: matte, and nobody knows which." in told
