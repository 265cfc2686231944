"""A comparison that is too close to call names its largest cause and that cause's remedy."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.measure.painted import GREY, painted_light, photo_of
from tonematch.demonstration import demo_photograph
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_reflectance, usual_card
from tonematch.measure.comparison import compare
from tonematch.measure.core import Reading
from tonematch.measure.marked import compare_marked
from tonematch.measure.reading.reading import read_area
from tonematch.measure.uncertainty.budget import Errors, causes, draw_errors, metamerism_covariance
from tonematch.measure.uncertainty.remedies import say_remedy, uncertainty_by_cause

CARD_BOX, OLD_BOX, NEW_BOX = (5, 5, 40, 40), (60, 10, 60, 60), (130, 10, 60, 60)
REMEDIES = {
    "noise": "more light",
    "light": "a second card",
    "tone": "have white and black cards",
    "camera": "have a chart",
    "card": "mark more of it",
    "rest": "photograph original and repair anew",
    "repeat": "take them again",
}


@pytest.fixture(scope="module")
def pair() -> tuple[Reading, Reading]:
    """Two golds about 2 apart."""
    fields = {CARD_BOX: GREY, OLD_BOX: (60.0, 8.0, 30.0), NEW_BOX: (62.2, 8.0, 31.0)}
    photo = photo_of(painted_light(fields, noise=0.02))
    calibration = calibrate(photo, box_area("card", CARD_BOX, "card"), card_from_reflectance(0.18))
    return (
        read_area(photo, box_area("old", OLD_BOX, "original"), calibration),
        read_area(photo, box_area("new", NEW_BOX, "repair"), calibration),
    )


def errors_by(largest: str, size: float = 0.6) -> Errors:
    """Errors of which one cause is by far the largest."""
    random = np.random.default_rng(51)

    def of(name: str) -> NDArray[np.float64]:
        deviation = size if name == largest else 0.05
        return random.normal(0.0, deviation, (2, 500, 3))

    names = ("area", "noise", "light", "tone", "camera", "card", "rest", "repeat")
    return Errors({name: of(name) for name in names}, np.zeros((2, 500, 3)))


@pytest.mark.parametrize("cause", REMEDIES)
def test_each_cause_has_its_remedy(pair: tuple[Reading, Reading], cause: str) -> None:
    errors = errors_by(cause)
    assert next(iter(uncertainty_by_cause(*pair, errors))) == cause
    said = say_remedy(*pair, errors, profiled=False)
    assert REMEDIES[cause] in said
    others = [words for name, words in REMEDIES.items() if name != cause]
    assert not any(words in said for words in others)


@pytest.mark.parametrize("weaker", [0, 1])
def test_an_area_that_weighs_most_is_named(pair: tuple[Reading, Reading], weaker: int) -> None:
    errors = errors_by("area")
    errors.by_cause["area"][weaker] *= 2.0
    said = say_remedy(*pair, errors, profiled=False)
    assert f"'{('old', 'new')[weaker]}'" in said
    assert "larger or more even part" in said


def test_a_larger_area_is_no_remedy_for_metamerism(pair: tuple[Reading, Reading]) -> None:
    size = np.sqrt(np.trace(metamerism_covariance(pair[0].lab)) / 3.0)
    errors = errors_by("area", float(size))
    errors = replace(errors, by_cause={"area": errors.by_cause["area"]})
    assert "let the eye decide" in say_remedy(*pair, errors, profiled=False)


@pytest.mark.parametrize("cause", ["light", "card"])
def test_two_photographs_are_better_one(pair: tuple[Reading, Reading], cause: str) -> None:
    elsewhere = replace(pair[1], photo_sha256="f" * 64)
    said = say_remedy(pair[0], elsewhere, errors_by(cause), profiled=False)
    assert "in one photograph" in said


def test_after_a_chart_the_eye_decides(pair: tuple[Reading, Reading]) -> None:
    said = say_remedy(*pair, errors_by("camera"), profiled=True)
    assert "let the eye decide" in said
    assert "have a chart" not in said


def test_greys_beside_the_card_are_named_with_it(pair: tuple[Reading, Reading]) -> None:
    calibration: Any = pair[0].calibration
    further = replace(calibration, measured=frozenset({"tone"}))
    with_greys = replace(pair[0], calibration=further)
    said = say_remedy(with_greys, pair[1], errors_by("card"), profiled=False)
    assert "the other greys" in said


def test_what_is_said_follows_the_budget_of_real_readings(pair: tuple[Reading, Reading]) -> None:
    one, other = pair
    assert one.calibration is not None
    sigmas = np.pad([0.05, 0.0, 0.05], (0, len(one.calibration.relative_covariance) - 3))
    unsure = replace(one.calibration, relative_covariance=np.diag(sigmas) ** 2)
    far = (replace(one, calibration=unsure), replace(other, calibration=unsure))
    shared, apart = compare(*far, 2.0), compare(*far, 2.0, same_calibration=False)
    assert apart.verdict == "too close to call"
    assert "the card counts most" in apart.words
    assert "the card counts most" not in shared.words


def test_three_tones_are_told_what_a_raw_file_would_do() -> None:
    marked = demo_photograph("scene-2-after-1.jpg").marked()
    found = compare_marked(marked, marked, usual_card(), 2.0)
    budgets = [causes(found.original), causes(found.repair)]
    sizes = uncertainty_by_cause(found.original, found.repair, draw_errors(budgets, 2000, 2014))
    assert next(iter(sizes)) in ("tone", "camera")
    assert sizes["card"] < 0.01
    assert found.verdict == "too close to call"
    assert (
        "to call. From the camera's raw or DNG file the difference would be known to lie between"
        in found.words
    )
    assert "white and black cards" not in found.words
