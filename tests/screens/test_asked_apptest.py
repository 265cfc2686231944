"""What a photograph cannot show is asked on the Compare page, above the verdict."""

import sys
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.measure.asked_cases import ASKED, STEMS, Asked, as_file, painted
from tests.screens.app_pages import as_read, open_app, press, type_areas


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(tmp_path / "logbook.sqlite")])
    return press(open_app(), "Put it on the bench")


def compare(app: AppTest, case: Asked) -> AppTest:
    """Hand the photograph over, type where its areas lie, and compare."""
    app.file_uploader[0].upload("picture.png", case.picture(), "image/png").run()
    boxes = dict(case.boxes)
    if case.other_card is not None:
        (count,) = (n for n in app.number_input if n.label.startswith("How often the same card"))
        count.set_value(1).run()
        boxes["card again"] = case.other_card
    type_areas(app, {label.capitalize(): box for label, box in boxes.items()})
    return press(app, "Compare the two")


def asked(app: AppTest) -> list[str]:
    """What is asked above the verdict; no warning stands below it."""
    assert not app.exception
    assert not app.error
    elements = list(app.main)
    (verdict,) = (
        at for at, e in enumerate(elements) if e.type == "html" and "tm-ruler" in e.proto.body[:40]
    )
    assert "warning" not in [element.type for element in elements[verdict:]]
    told = [as_read(warning.value) for warning in app.warning]
    return [warning for warning in told if any(stem in warning for stem in STEMS)]


@pytest.mark.parametrize("name", ["a warm reflection, a second card", "gold for a card"])
def test_it_is_asked_once_above_the_verdict(app: AppTest, name: str) -> None:
    (said,) = asked(compare(app, ASKED[name]))
    assert ASKED[name].words.lower() in said.lower()


@pytest.mark.proof
def test_linear_light_is_named_as_the_page_offers_it(app: AppTest) -> None:
    (said,) = asked(compare(app, ASKED["linear light"]))
    assert ASKED["linear light"].words in said
    assert "--" not in said
    press(app, "Mark again")
    (box,) = (c for c in app.checkbox if c.label.lower() in said.lower())
    box.check().run()
    press(app, "Compare the two")
    assert asked(app) == []


def test_nothing_is_asked_of_a_plain_photograph(app: AppTest) -> None:
    assert asked(compare(app, Asked(lambda: as_file(painted()), ""))) == []
