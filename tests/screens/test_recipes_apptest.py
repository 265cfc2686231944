"""A recipe laid again from the page where a layer is laid, by two presses."""

from pathlib import Path

import numpy as np

from tests.screens.app_pages import press, said
from tests.screens.test_lay_apptest import load
from tonematch.logbook.core import RecipeStep
from tonematch.logbook.store import open_logbook
from tonematch.toning.core import Application, Trial

STEPS = (RecipeStep("dark wax", "wax", 0.25), RecipeStep("raw umber wash", "wash", 0.75, 2))


def test_a_recipe_is_laid_in_two_presses_and_leads_on(logbook_file: Path) -> None:
    with open_logbook(logbook_file) as logbook:
        logbook.add_recipe("hall tone", STEPS)
        logbook.use_recipe("hall tone", "hall mirror")
        old_gold = np.array([60.0, 8.0, 32.0])
        for step in STEPS:
            laid = Application(old_gold, step.layer, step.kind, step.strength, step.coats)
            logbook.add_trial(Trial(laid, old_gold, "hall mirror"))
    app = load("hall mirror")
    assert "dark wax 0.25, then raw umber wash 0.75, 2 coats." in said(app)
    assert "Last laid on hall mirror, from far to nobody can tell." in said(app)
    app = press(press(app, "Lay the recipe hall tone"), "I have laid it")
    with open_logbook(logbook_file) as logbook:
        lying = logbook.layer_in_progress("hall mirror")
        assert lying is not None
        assert (lying.application.layer, lying.application.strength) == ("dark wax", 0.25)
        logbook.call_off_layer(lying.id)
        colour = np.array([70.0, 6.0, 35.0])
        logged = Trial(Application(colour, "dark wax", "wax", 0.25), colour, "hall mirror")
        logbook.add_trial(logged)
    app = load("hall mirror")
    assert "hall tone: 1 of 2 laid." in said(app).replace("*", "")
    app = press(app, "Its next layer: raw umber wash")
    chosen = {box.label: box.value for box in (*app.selectbox, *app.number_input)}
    assert (chosen["Layer"], chosen["Coats"]) == ("raw umber wash", 2)
    assert chosen["How much of the full mix"] == 0.75


def test_what_was_laid_is_kept_as_a_recipe(logbook_file: Path) -> None:
    colour = np.array([70.0, 6.0, 35.0])
    with open_logbook(logbook_file) as logbook:
        laid = Application(colour, "dark wax", "wax", 0.5)
        logbook.add_trial(Trial(laid, colour, "hall mirror"))
    app = load("hall mirror")
    assert "Laid here: dark wax 0.5." in said(app)
    next(box for box in app.text_input if box.label.startswith("Keep it as")).set_value("wax").run()
    assert "wax is kept as a recipe" in said(press(app, "Keep the recipe"))
    with open_logbook(logbook_file) as logbook:
        (recipe,) = logbook.recipes()
    assert (recipe.name, recipe.steps) == ("wax", (RecipeStep("dark wax", "wax", 0.5),))
