"""Every rule of layering, told to a person through the app and through the command line.

Nothing is set that a person cannot set: pieces, photographs, marks, layers of one's own and what is
known of the gilding go in by the pages' own widgets and by the commands' own options.

Print the table: ``python -m tests.toning.layers.rule_walk``.
"""

import argparse
import io
import json
import re
import sys
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import open_app, press, said, visit
from tonematch.cli import main
from tonematch.swatchbook import swatch_path
from tonematch.toning.layers.rule_table import Rule, load_rules

HOURS = 30
PIECE = "frame"
SEAL, WASH = "clear shellac seal", "raw umber wash"
# Layers that a gilder may have and the shelf does not: name, kind, binder, solvent.
OWN = (
    ("bronze paint", "glaze", "resin", "aromatic spirit"),
    ("casein with red dye", "wash", "casein", "ammonia water"),
    ("agate burnish", "rub", "none", "dry"),
    ("red lead dust", "dust", "none", "dry"),
    ("old brew", "wash", "unknown", "unknown"),
)


@dataclass(frozen=True)
class Gilding:
    """What is told of a piece: a few words, and either nothing more or all of it."""

    technique: str
    bole: str = ""
    leaf: str = ""
    finish: str = "unknown"
    all_told: bool = False


FRESH_OLD_OIL = Gilding("oil", all_told=True)
# For each gilding what lies on it and what is laid over that.
LAID: Mapping[Gilding, Sequence[tuple[Sequence[str], str]]] = {
    FRESH_OLD_OIL: [
        ([], "bronze paint"),
        ([], "dammar seal"),
        ([], SEAL),
        ([], "raw umber glaze"),
        ([], "rub to bole"),
        (["bronze paint"], "gelatine size"),
    ],
    Gilding("oil"): [
        ([SEAL], "casein umber wash"),
        ([SEAL], "button shellac"),
        ([SEAL, WASH], "casein with red dye"),
        (["clear wax", "bitumen glaze", "raw umber glaze"], SEAL),
        (["clear wax"], "agate burnish"),
        (["clear wax"], "rub to bole"),
        (["rub to bole"], "rub to gesso"),
        (["rub to bole"], WASH),
        (["clear wax"], "raw umber dust"),
        (["clear wax"], "fly-specks"),
        (["raw umber dust"], WASH),
        (["raw umber dust"], "sprayed fixing coat"),
        (["van dyke brown glaze"], "raw umber glaze"),
        ([], "red lead dust"),
        ([], "old brew"),
        ([], "bitumen glaze"),
        ([], "van dyke brown glaze"),
    ],
    Gilding("water", "black"): [
        ([], "gelatine size"),
        ([], "fly-specks"),
        ([], "rub to bole"),
    ],
    Gilding("water", "yellow, black on the high points", "silver", "matte", all_told=True): [
        ([], "gelatine size"),
        ([], "rub to black bole"),
        ([], "dark wax"),
        ([], SEAL),
    ],
    Gilding("oil", leaf="brass"): [
        ([], "casein with red dye"),
        ([SEAL], "brown patina on brass"),
        ([], "green patina on brass"),
    ],
    Gilding("unknown", leaf="23.75 carat"): [
        ([], "brown patina on brass"),
        ([], "rub to bole"),
    ],
}


Told = list[tuple[str, str]]  # in which state, and what the person was told there


def told_by_app(folder: Path) -> Told:
    """What the pages say in each state."""
    with patch.object(sys, "argv", ["app.py", "--logbook", str(folder / "app.sqlite")]):
        app = _compared(open_app())
        for made_of in OWN:
            _add_layer(visit(app, "Shelf"), *made_of)
        told = []
        for gilding, laid in LAID.items():
            _describe(visit(app, "Piece"), gilding)
            told.append((f"Piece: {gilding.technique}", said(app)))
            visit(app, "Lay a layer")
            _widget(app.number_input, "Relative humidity").set_value(80.0 * gilding.all_told).run()
            for beneath, layer in laid:
                _widget(app.multiselect, "What lay on the repair").set_value(list(beneath))
                _widget(app.selectbox, "Layer").set_value(layer).run()
                assert not app.exception
                told.append((f"Lay a layer: {layer}", said(app)))
    return told


def told_by_commands(folder: Path) -> Told:
    """What the commands print in each state."""
    logbook, trials = folder / "commands.sqlite", folder / "trials.csv"
    lines = swatch_path("demo", "trials.csv").read_text(encoding="utf-8").splitlines()
    trials.write_text("\n".join(lines[:3]) + "\n", encoding="utf-8")  # to have learned something
    _run("trials", "import", trials, "--logbook", logbook)
    for name, kind, binder, solvent in OWN:
        made_of = ("--binder", binder, "--solvent", solvent)
        _run("shelf", "add", name, "--kind", kind, *made_of, "--logbook", logbook)
    told = []
    for number, (gilding, laid) in enumerate(LAID.items()):
        piece = ["--technique", gilding.technique, "--bole", gilding.bole]
        piece += ["--leaf", gilding.leaf, "--finish", gilding.finish]
        if gilding.all_told:
            piece += ["--hours", str(HOURS), "--humidity", "80", "--old-gold", "--unknown-coating"]
            piece += ["--glass", "old mirror"]
        _run("pieces", "add", f"{PIECE} {number}", *piece, "--logbook", logbook)
        asked = ("--piece", f"{PIECE} {number}", "--from", "88,6,35", "--logbook", logbook)
        for beneath, layer in laid:
            over = [word for name in beneath for word in ("--laid", name)]
            words = _run("predict", *asked, *over, "--layer", f"{layer}:0.5")
            told.append((f"predict --layer '{layer}'", words))
    return told


def where_told(told: Iterable[tuple[str, str]], rule: Rule) -> str:
    """The first state in which a person is told a rule; empty where it is none."""
    plain = re.escape(rule.reason).replace(r"\{layer\}", ".+").replace(r"\{beneath\}", ".+")
    return next((state for state, words in told if re.search(plain, words, re.IGNORECASE)), "")


def _compared(app: AppTest) -> AppTest:
    """A piece with a photograph, marked and compared, the comparison kept."""
    _widget(app.text_input, "Name").set_value(PIECE)
    press(app, "Add this piece")
    picture = swatch_path("demo", "scene-1.jpg").read_bytes()
    app.file_uploader[0].upload("scene-1.jpg", picture, "image/jpeg").run()
    truth = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))
    for role, area in truth["pictures"]["scene-1.jpg"]["areas"].items():
        for side, value in zip(("left", "top", "width", "height"), area["box"], strict=True):
            _widget(app.number_input, f"{role.capitalize()}, {side}").set_value(value)
    return visit(press(app.run(), "Compare the two"), "Lay a layer")


def _add_layer(app: AppTest, name: str, kind: str, binder: str, solvent: str) -> None:
    # The form of the layer that is shown comes first, that of a new one after it.
    _widget(app.text_input, "Name of the layer", 1).set_value(name)
    _widget(app.selectbox, "Acts about like").set_value(f"any {kind}").run()
    for label, answer in (("Binder", binder), ("Solvent", solvent)):
        _widget(app.selectbox, label, 1).set_value(answer)
    press(app, "Put it on the shelf")
    assert not app.exception
    assert not app.error


def _describe(app: AppTest, gilding: Gilding) -> None:
    laid = datetime.now() - timedelta(hours=HOURS) if gilding.all_told else None
    _widget(app.radio, "Gilding technique").set_value(gilding.technique)
    _widget(app.radio, "Finish").set_value(gilding.finish)
    _widget(app.text_input, "Bole").set_value(gilding.bole)
    _widget(app.text_input, "Leaf").set_value(gilding.leaf)
    _widget(app.radio, "Glass").set_value("old mirror" if gilding.all_told else "unknown")
    _widget(app.get("date_time_input"), "When the gold was laid").set_value(laid)
    _widget(app.checkbox, "The gold being toned").set_value(gilding.all_told)
    _widget(app.checkbox, "An old coating").set_value(gilding.all_told)
    press(app, "Keep the changes")
    assert not app.exception
    assert not app.error


def _widget(widgets: Any, label: str, place: int = 0) -> Any:
    return [widget for widget in widgets if widget.label.startswith(label)][place]


def _run(*arguments: object) -> str:
    printed = io.StringIO()
    with redirect_stdout(printed):
        try:
            main([str(argument) for argument in arguments])
        except SystemExit as ended:
            assert ended.code == 0, arguments
    return printed.getvalue()


def main_table() -> None:
    """Print where each rule is told."""
    with tempfile.TemporaryDirectory() as folder:
        app, commands = told_by_app(Path(folder)), told_by_commands(Path(folder))
    rows = [(rule.id, where_told(app, rule), where_told(commands, rule)) for rule in load_rules()]
    for row in (("rule", "in the app", "on the command line"), *rows):
        print("{:36} {:36} {}".format(*row))
    counts = [sum(bool(row[face]) for row in rows) for face in (0, 1, 2)]
    print("{} rules: {} told in the app, {} on the command line".format(*counts))


if __name__ == "__main__":
    argparse.ArgumentParser(description=main_table.__doc__).parse_args()
    main_table()
