"""The plan on a phone: the first layer is near, and the page before it is gone at once."""

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.screens.hand import PHONE, needs_chromium, open_hand, plans
from tests.screens.served import serve
from tonematch.demonstration import PIECE, demo_photograph, load_demonstration
from tonematch.logbook.store import open_logbook
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.marked import compare_marked

pytestmark = [pytest.mark.proof, needs_chromium]


@pytest.mark.parametrize("tried", [True, False])
def test_the_first_layer_is_within_two_screens_of_a_phone(
    browser: Browser, tmp_path: Path, tried: bool
) -> None:
    shown = demo_photograph("scene-1.jpg")
    marked = shown.marked()
    gap = compare_marked(marked, marked, usual_card(), PIECE.tolerance)
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        if tried:
            load_demonstration(logbook)
        else:
            logbook.add_piece(replace(PIECE, laid_before=()))
        logbook.keep_photo(shown.data, shown.name, PIECE.name)
        logbook.keep_comparison(PIECE.name, gap, {marked.photo.sha256: marked.aids})
    with serve(tmp_path) as server:
        hand = open_hand(browser, tmp_path, PHONE, touch=True)
        hand.page.goto(server.url)
        hand.page.goto(f"http://{server.host}/?room=Compare&piece={PIECE.name}")
        hand.press("Make a plan")
        hand.page.get_by_role("heading", name="Plan", exact=True).wait_for()
        assert hand.page.get_by_role("button", name="Mark again").count() == 0
        plans(hand)
        if not tried:
            expect(hand.page.get_by_text("Make test strips first")).to_be_in_viewport()
        lays = hand.page.get_by_role("button", name="Lay:" if tried else "To learn:")
        box = lays.first.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= 2 * PHONE[1]
