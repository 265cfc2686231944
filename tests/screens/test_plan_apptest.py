"""The plan page: strips chosen, printed and read back; mixes; gold that is not laid yet."""

import io
import re
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw
from streamlit.testing.v1 import AppTest

from tests.screens.app_pages import (
    as_read,
    demo_boxes,
    hand_over,
    open_app,
    open_piece,
    press,
    said,
    type_areas,
    visit,
)
from tonematch.demonstration import PIECE
from tonematch.logbook.core import Piece
from tonematch.logbook.store import open_logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.core import Comparison
from tonematch.record.strip_layout import FRAME, StripLayout
from tonematch.screens.planning import foretell, learned_model, useful_mixes
from tonematch.screens.sections.plan_card import TO_LEARN
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Application, Coat, Strip, Surface
from tonematch.toning.layers.mix import USUAL_POT, say_coat
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.planning.ground import Ground
from tonematch.toning.planning.plan_words import STRIPS_FIRST


def _plan() -> AppTest:
    app = open_app()
    open_piece(app, "hall mirror")
    return visit(app, "Plan")


def _first_lay(app: AppTest) -> Any:
    """The button that takes up a first step, of a plan or to learn from."""
    return next(b for b in app.button if b.label.startswith(("Lay: ", "To learn: ")))


@pytest.mark.proof
def test_strips_are_chosen_kept_and_offered_as_a_sheet(logbook_file: Path) -> None:
    app = _plan()
    assert not app.exception
    assert STRIPS_FIRST in said(app)
    (count,) = (n for n in app.number_input if n.label == "How many strips at most")
    count.set_value(3).run()
    press(app, "Choose them")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        (sheet,) = logbook.strip_sheets("hall mirror")
    assert len(sheet.strips) == 3
    told = said(app)
    for coat in (coat for strip in sheet.strips for coat in strip.steps):
        assert say_coat(coat, USUAL_POT) in told
    assert [b for b in app.get("download_button") if "sheet" in b.proto.label]
    # Another day the sheet is there still, to be read back.
    assert f"Sheet {sheet.id} of" in said(_plan())


@pytest.mark.usefixtures("logbook_file")
def test_without_trials_strips_come_first_in_the_same_words_as_typed() -> None:
    app = _plan()
    assert not app.exception
    assert STRIPS_FIRST in [as_read(note.value) for note in app.info]
    # What seldom gets there is no plan to lay; one mild layer that comes off may be learned from.
    assert not [button for button in app.button if button.label.startswith("Lay: ")]
    learned = [button.label for button in app.button if button.label.startswith("To learn: ")]
    assert len(learned) == 1
    assert "rub" not in learned[0]
    assert TO_LEARN in said(app)


@pytest.mark.usefixtures("logbook_file")
def test_without_trials_the_strips_stand_above_the_plan() -> None:
    told = list(_plan().main)  # blocks and what is in them, from the top
    strips = next(
        n for n, one in enumerate(told) if getattr(one, "label", "") == "Choose the strips"
    )
    learned = next(
        n
        for n, one in enumerate(told)
        if str(getattr(one, "value", "")).startswith("Laid to learn: ")
    )
    assert strips < learned


@pytest.mark.proof
def test_no_other_layer_slips_under_the_hand(logbook_file: Path) -> None:
    app = _plan()
    shown = _first_lay(app)
    with open_logbook(logbook_file) as logbook:  # on another device, meanwhile
        logbook.add_trials(read_trials(swatch_path("demo", "trials.csv"), load_shelf()))
    shown.click().run()
    now = [b.label for b in app.button if b.label.startswith("Lay: ")]
    assert app.header[0].value == "Plan"
    assert now[0] != shown.label


@pytest.mark.usefixtures("logbook_file")
def test_too_many_coats_are_warned_of_where_a_layer_is_laid() -> None:
    app = visit(_plan(), "Lay a layer")
    (layer,) = (s for s in app.selectbox if s.label == "Layer")
    layer.set_value("raw umber wash").run()
    for coats, warned in ((2, False), (3, True)):
        next(n for n in app.number_input if n.label == "Coats").set_value(coats).run()
        warning = f"Raw umber wash would lie there in {coats} coats, and its entry allows 2 coats"
        assert (warning in said(app)) is warned


@pytest.mark.proof
def test_what_lay_there_before_is_kept_with_the_piece(logbook_file: Path) -> None:
    app = _plan()
    (laid,) = (m for m in app.multiselect if m.label.startswith("What lay on the repair"))
    laid.set_value(["clear shellac seal"]).run()
    assert not app.exception
    with open_logbook(logbook_file) as logbook:
        assert logbook.piece("hall mirror").laid_before == ("clear shellac seal",)
    assert "On the repair now: clear shellac seal." in said(_plan())


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_gold_that_is_not_laid_yet_is_chosen() -> None:
    app = _gold_to_lay({"Card": "card", "Original": "original"}, strip=False)
    assert app.header[0].value == "Plan"
    ways = [s.value for s in app.subheader]
    assert ways
    assert all(way.endswith("leaf") for way in ways)
    # One grey card tells too little of the old gold to count on any of them.
    assert "No way is likelier than not" in said(app)
    chances = re.findall(r"Near enough once toned: \*\*.*?([0-9]+) %", said(app))
    assert chances
    assert max(map(int, chances)) <= 20
    assert "Nobody has read yours: it is guessed" in said(app)
    assert PIECE.name in said(app)


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_a_strip_of_leaf_beside_the_original_tells_which_gold_to_lay() -> None:
    areas = {"Card": "card", "Original": "original", "Strip": "repair"}
    app = _gold_to_lay(areas, strip=True)
    assert "told from your strip of 23.75 carat leaf" in said(app)
    chances = re.findall(r"Near enough once toned: \*\*.*?([0-9]+) %", said(app))
    assert max(map(int, chances)) >= 50
    assert "No way is likelier than not" not in said(app)


def _gold_to_lay(areas: dict[str, str], strip: bool) -> AppTest:
    """The plan page of a piece without gold, from areas of a bundled photograph."""
    app = press(open_app(), "Put it on the bench")
    (how,) = (r for r in app.radio if r.label == "Your pictures")
    how.set_value("The gold is not laid yet: the original only").run()
    app.checkbox(key="strip-beside").set_value(strip).run()
    boxes = demo_boxes("scene-1.jpg")
    at = {label: boxes[role.capitalize()] for label, role in areas.items()}
    type_areas(hand_over(app, "scene-1.jpg"), at)
    press(app, "Which gold to lay")
    assert not app.exception
    return app


@pytest.mark.proof
def test_a_mix_is_foretold_from_its_parts_until_it_has_trials() -> None:
    shelf = load_shelf()
    trials = read_trials(swatch_path("demo", "trials.csv"), shelf)
    before, target = np.array([88.0, 6.0, 35.0]), np.array([70.0, 7.0, 30.0])
    _, mixes = useful_mixes(trials, shelf, Surface("water", "burnished"), before, target)
    assert mixes
    mix = mixes[0]
    known = {**shelf, mix.name: mix}
    laid = Application(before, mix.name, mix.kind, 0.5, 1, "water", "burnished")
    by_parts = foretell(trials, known, laid, None)
    by_entry = learned_model(trials, known).predict_distribution(laid)
    # Parts that were tried are known better than the entry of a mix that never was.
    assert np.trace(by_parts.covariance) < np.trace(by_entry.covariance)
    far = np.array([40.0, 20.0, 5.0])
    own = [replace(t, application=replace(laid), after=far) for t in trials[:8]]
    taught = foretell([*trials, *own], known, laid, None)
    assert np.linalg.norm(taught.lab - far) < np.linalg.norm(by_parts.lab - far)


@pytest.mark.proof
def test_a_layer_that_was_laid_says_its_surprise_and_what_it_taught(logbook_file: Path) -> None:
    app = press(open_app(), "Put it on the bench")
    type_areas(app, demo_boxes("scene-1.jpg"))
    press(app, "Compare the two")
    visit(app, "Lay a layer")
    (chooser,) = (s for s in app.selectbox if s.label == "Layer")
    chooser.set_value("burnt umber glaze").run()
    (strength,) = (n for n in app.number_input if n.label.startswith("How much"))
    strength.set_value(0.625).run()
    press(app, "I have laid it")
    after = "scene-2-after-1.jpg"
    type_areas(hand_over(app, after), demo_boxes(after))
    press(app, "Log this layer")
    assert not app.exception
    assert not app.error
    assert [fold for fold in app.expander if "glaze. It came out " in fold.label]
    assert "Your burnt umber glaze" in said(app)
    with open_logbook(logbook_file) as logbook:
        (kept,) = logbook.kept_trials(PIECE.name)
        assert len(logbook.history(PIECE.name).comparisons) == 2
        assert len(logbook.history(PIECE.name).photographs) == 2
    assert kept.prediction is not None


def _photographed_sheet(layers: tuple[int, ...], per_mm: int = 4) -> bytes:
    """The printed sheet with a grey card, bare gold on the left and a darker one on the right."""
    layout = StripLayout(layers)
    page = Image.new("RGB", (210 * per_mm, 297 * per_mm), (235, 235, 235))
    draw = ImageDraw.Draw(page)
    # 118 is linear reflectance 0.18 in sRGB (IEC 61966-2-1).
    painted = [(layout.card, (118, 118, 118))]
    for strip in range(len(layers)):
        bare, *toned = layout.fields(strip)
        painted += [(bare, (214, 184, 124)), *((field, (176, 146, 96)) for field in toned)]
    for (x, y, w, h), colour in painted:
        draw.rectangle([x * per_mm, y * per_mm, (x + w) * per_mm, (y + h) * per_mm], fill=colour)
    grain = np.random.default_rng(1).integers(-2, 3, (page.height, page.width, 1))
    seen = Image.fromarray(np.clip(np.asarray(page) + grain, 0, 255).astype(np.uint8))
    file = io.BytesIO()
    seen.save(file, "PNG")
    return file.getvalue()


@pytest.mark.proof
def test_a_photographed_sheet_is_read_back_in_one_go(logbook_file: Path) -> None:
    shelf = load_shelf()
    strips = [
        Strip((Coat(shelf["raw umber wash"], 0.5), Coat(shelf["dark wax"], 0.5))),
        Strip((Coat(shelf["burnt umber glaze"], 0.25, 2),)),
        Strip((Coat(shelf["rottenstone dust"], 1.0),)),
    ]
    with open_logbook(logbook_file) as logbook:
        logbook.keep_strips("hall mirror", strips, Ground(Surface("oil", "matte")))
    app = _plan()
    (made,) = (m for m in app.multiselect if m.label == "Strips to read")
    made.set_value([1, 3]).run()
    uploader = next(u for u in app.file_uploader if u.label == "Photograph of the sheet")
    uploader.upload("sheet.png", _photographed_sheet((2, 1, 1)), "image/png").run()
    x, y, w, h = (round(4 * value) for value in FRAME)
    at = {"Upper left": (x, y), "Upper right": (x + w, y)}
    at |= {"Lower right": (x + w, y + h), "Lower left": (x, y + h)}
    type_areas(app, at, ("across", "down"))
    press(app, "Read the strips")
    assert not app.exception
    assert not app.error
    with open_logbook(logbook_file) as logbook:
        first, second = logbook.trials()
        assert logbook.history(second.piece).photographs
        assert logbook.trials("hall mirror") == []
    for trial, strip in ((first, strips[0]), (second, strips[2])):
        assert trial.application.layer == strip.steps[0].layer.name
        assert trial.application.strength == strip.steps[0].strength
        assert (trial.application.technique, trial.application.finish) == ("oil", "matte")
        assert trial.after[0] < trial.application.before[0] - 5.0
    assert "From the strips: 2 layers" in said(app)
    # Half made, the stack is there another day, and its next layer is the one to read.
    later = _plan()
    assert "(1 of 2 layers read)" in said(later)
    (layers,) = (m for m in later.multiselect if m.label == "Layers to read")
    assert layers.value == [2]


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_what_is_being_laid_is_there_after_a_look_at_another_page() -> None:
    app = _plan()
    lay = _first_lay(app)
    lay.click().run()
    (layer,) = (s for s in app.selectbox if s.label == "Layer")
    assert as_read(lay.label) == f"To learn: {layer.value}"
    (strength,) = (n for n in app.number_input if n.label.startswith("How much"))
    strength.set_value(0.35).run()
    visit(visit(app, "Logbook"), "Lay a layer")
    assert not app.exception
    (again,) = (s for s in app.selectbox if s.label == "Layer")
    assert again.value == layer.value
    (strength,) = (n for n in app.number_input if n.label.startswith("How much"))
    assert strength.value == 0.35


def _warned(app: AppTest) -> str:
    return "\n".join(as_read(warning.value) for warning in app.warning)


def _widget(widgets: Any, label: str) -> Any:
    (found,) = (widget for widget in widgets if widget.label.startswith(label))
    return found


@pytest.mark.proof
def test_what_is_told_of_the_gilding_is_kept_shown_and_can_be_taken_back(
    logbook_file: Path,
) -> None:
    def lay() -> AppTest:
        return visit(_plan(), "Lay a layer")

    app = lay()
    laid_at = datetime.now().replace(second=0, microsecond=0) - timedelta(hours=30)
    _widget(app.checkbox, "The gold being toned").check().run()
    _widget(app.checkbox, "An old coating").check().run()
    _widget(app.get("date_time_input"), "When the gold was laid").set_value(laid_at).run()
    _widget(app.number_input, "Relative humidity").set_value(80.0).run()
    _widget(app.number_input, "Temperature").set_value(12.0).run()
    assert "accredited conservator" in _warned(app)
    app = open_app()  # as after a reload: the page says it, and the questions are answered
    visit(open_piece(app, "hall mirror"), "Piece")
    for words in (
        "The gold itself is old",
        f"Laid on {laid_at:%Y-%m-%d at %H:%M}",
        "80 %",
        "12 °C",
    ):
        assert words in said(app)
    app = lay()
    assert _widget(app.get("date_time_input"), "When the gold was laid").value == laid_at
    assert "accredited conservator" in _warned(app)
    _widget(app.checkbox, "The gold being toned").uncheck().run()
    _widget(app.checkbox, "An old coating").uncheck().run()
    _widget(app.get("date_time_input"), "When the gold was laid").set_value(None).run()
    _widget(app.number_input, "Relative humidity").set_value(None).run()
    _widget(app.number_input, "Temperature").set_value(None).run()
    assert "accredited conservator" not in _warned(app)
    with open_logbook(logbook_file) as logbook:
        assert replace(logbook.piece("hall mirror"), air_told_at="") == Piece(
            "hall mirror", "water", "burnished", bole="red"
        )


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_a_plan_says_what_goes_into_a_pot_of_the_size_that_is_typed() -> None:
    app = _plan()
    small = said(app)
    assert "strength" not in small.casefold()
    assert "because the original is" in small
    _widget(app.number_input, "Pot, in ml").set_value(200.0).run()
    large = said(app)
    volumes = [[int(ml) for ml in re.findall(r" in ([0-9]+) ml ", told)] for told in (small, large)]
    assert max(volumes[0]) <= 25
    assert min(volumes[1]) >= 150
    assert "heat themselves" in large  # the card for the whole job, in its fold
    # It is known where the layer is laid, too.
    _first_lay(app).click().run()
    assert "What it takes: " in said(app)
    assert re.search(r" in (1|2)[0-9][0-9] ml ", said(app))


@pytest.mark.proof
def test_what_was_toned_too_far_is_taken_back_by_the_button_of_a_plan(
    logbook_file: Path, comparison: Comparison
) -> None:
    with open_logbook(logbook_file) as logbook:
        logbook.add_trials(read_trials(swatch_path("demo", "trials.csv"), load_shelf()))
        washed = ("clear shellac seal", "raw umber wash")
        logbook.change_piece(
            "hall mirror", replace(logbook.piece("hall mirror"), laid_before=washed)
        )
        darker = replace(comparison, original=comparison.repair, repair=comparison.original)
        logbook.keep_comparison("hall mirror", darker)
    app = _plan()
    assert ": a damp cotton swab, rolled" in said(app)
    _first_lay(app).click().run()
    assert not app.exception
    assert _widget(app.selectbox, "Layer").value == "raw umber wash, taken back"
    assert said(app).count("a damp cotton swab, rolled and not rubbed") == 1
    press(app, "I have laid it")
    assert not app.exception
    with open_logbook(logbook_file) as logbook:
        laid = logbook.layer_in_progress("hall mirror")
    assert laid is not None
    assert (laid.application.layer, laid.application.kind) == ("raw umber wash, taken back", "lift")


@pytest.mark.proof
def test_a_page_left_open_does_not_take_back_what_was_told_since(logbook_file: Path) -> None:
    left_open = visit(_plan(), "Lay a layer")
    elsewhere = visit(_plan(), "Lay a layer")
    _widget(elsewhere.checkbox, "The gold being toned").check().run()
    left_open.run()
    assert _widget(left_open.checkbox, "The gold being toned").value
    with open_logbook(logbook_file) as logbook:
        assert logbook.piece("hall mirror").historic


@pytest.mark.proof
@pytest.mark.usefixtures("logbook_file")
def test_a_second_choice_of_layer_is_not_lost() -> None:
    app = visit(_plan(), "Lay a layer")
    for name in ("dark wax", "rottenstone dust", "fly-specks"):
        _widget(app.selectbox, "Layer").set_value(name).run()
        assert f"**{name}**" in said(app)


def test_gold_is_not_laid_at_a_time_that_has_not_come(logbook_file: Path) -> None:
    app = visit(_plan(), "Lay a layer")
    later = datetime.now() + timedelta(days=2)
    _widget(app.get("date_time_input"), "When the gold was laid").set_value(later).run()
    assert not app.exception
    assert "has not come yet" in app.error[0].value
    with open_logbook(logbook_file) as logbook:
        assert logbook.piece("hall mirror").gilded_at == ""


@pytest.mark.proof
def test_what_is_out_of_reach_is_told_without_a_button(
    logbook_file: Path, comparison: Comparison
) -> None:
    with open_logbook(logbook_file) as logbook:
        logbook.add_trials(read_trials(swatch_path("demo", "trials.csv"), load_shelf()))
        lighter = replace(comparison, original=comparison.repair, repair=comparison.original)
        logbook.keep_comparison("hall mirror", lighter)
    app = _plan()
    assert not app.exception
    assert "Out of reach" in "".join(warning.value for warning in app.warning)
    assert not [b for b in app.button if b.label.startswith(("Lay: ", "To learn: "))]
    assert not [head for head in app.subheader if head.value.startswith("Plan ")]
