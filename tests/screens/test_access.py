"""Every page for every eye and hand, light and dark, at both sizes.

axe-core, which carries the tests of WCAG 2.2, finds nothing serious; and beyond it every picture
has words, every target 44 px, every text 16 px, and colour science stands in folds alone.
"""

from pathlib import Path
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.screens.hand import (
    LAPTOP,
    PHONE,
    Hand,
    drag,
    go,
    hand_over,
    lay_first,
    needs_chromium,
    open_hand,
    plans,
)  # fmt: skip
from tests.screens.served import Server
from tonematch.screens.pages.today_page import PHOTOGRAPH
from tonematch.screens.session import ROOMS

pytestmark = needs_chromium
AFTER = "scene-2-after-1.jpg"
PRESSED = {
    "Compare": ("Look closer",),
    "Logbook": ("Open ", "Story", "Train the eye"),
    "Record": ("Write the record",),
}
"""What more of a room is opened, one after the other."""
CUT = "width: 60px; overflow: hidden; white-space: nowrap; text-overflow: ellipsis"
WITHIN_REACH = (Path(__file__).parent / "within_reach.js").read_text(encoding="utf-8")


def _unfold(hand: Hand) -> None:
    """Open all folds, and those within."""
    for _ in range(2):
        hand.page.evaluate("document.querySelectorAll('details:not([open]) > summary')"
                           ".forEach((fold) => fold.click())")  # fmt: skip
        hand.settle()


def _in_room(hand: Hand, scheme: Literal["light", "dark"]) -> None:
    hand.page.emulate_media(color_scheme=scheme)
    hand.page.wait_for_function(
        "(scheme) => getComputedStyle(document.querySelector('.stApp')).colorScheme === scheme",
        arg=scheme,
    )
    # Colours pass over slowly: halfway nothing can be read, and nobody is meant to.
    hand.page.wait_for_function(
        "document.getAnimations().every((one) => !(one instanceof CSSTransition))"
    )


def _faults(hand: Hand) -> list[str]:
    """What bars somebody from the page as it stands, with all its folds open."""
    _unfold(hand)
    found: list[str] = []
    for width, height in (PHONE, LAPTOP):
        hand.page.set_viewport_size({"width": width, "height": height})
        found += hand.page.evaluate(WITHIN_REACH) + _grave(hand, {})
    _in_room(hand, "dark")
    found += _grave(hand, {"runOnly": "color-contrast"})
    _in_room(hand, "light")
    return found


def _grave(hand: Hand, rules: dict[str, str]) -> list[str]:
    """What axe-core finds serious or critical."""
    return [
        f"{fault['id']}: {node['failureSummary']} {node['html'][:200]}"
        for fault in Axe().run(hand.page, options=rules).response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]


@pytest.mark.proof
@pytest.mark.parametrize(
    ("told", "said"),
    [
        ("<p>CIEDE2000 3.1</p>", ["foreign: p 'CIEDE2000 3.1' in main"]),
        ("<img alt='L* 80' width=90 height=90>", ["foreign: img 'L* 80' in main"]),
        ("<details open><summary>CIEDE2000</summary></details>", ["foreign: summary 'CIEDE2000'"]),
        ("<details open><summary>In numbers</summary><p>CIEDE2000 3.1</p></details>", []),
        ("<p>Far. Tone it darker.</p>", []),
        ("<p style='font-size: 15px'>dark</p>", ["text of 15 px: p 'dark' in main"]),
        (f"<p style='{CUT}'>brighter than the old gold</p>", ["cut off: p 'brighter"]),
        ("<img width=90 height=90>", ["no words: img '' in main"]),
        ("<button style='height: 43px; width: 90px'>Lay</button>", ["target of 90 x 43 px"]),
    ],
)
def test_a_page_that_falls_short_is_told(browser: Browser, told: str, said: list[str]) -> None:
    """The check itself, fed with pages that are wrong in one thing, and with right ones."""
    page = browser.new_page()
    page.set_content(
        "<style>* { font-size: 16px } summary { display: block; height: 44px }</style>"
        f"<main data-testid=main>{told}</main>"
    )
    found = page.evaluate(WITHIN_REACH)
    page.close()
    assert len(found) == len(said)
    assert all(one.startswith(words) for one, words in zip(found, said, strict=True)), found


@pytest.mark.proof
def test_a_dark_room_is_chosen_by_the_system_or_by_hand(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = open_hand(browser, tmp_path, PHONE)
    hand.page.goto(server.url)
    hand.page.get_by_text("This is your bench").wait_for()
    _in_room(hand, "dark")
    hand.press("Main menu")
    hand.page.get_by_role("menuitemradio", name="Light").click()
    room = "getComputedStyle(document.querySelector('.stApp')).colorScheme"
    hand.page.wait_for_function(f"{room} === 'light'")
    assert hand.page.get_by_role("menuitem").count() == 0  # nothing else is offered there
    hand.page.reload()
    hand.page.get_by_text("This is your bench").wait_for()
    hand.page.wait_for_function(f"{room} === 'light'")
    assert hand.hosts() == {server.host}


@pytest.mark.proof
def test_nothing_bars_anybody_from_a_page(browser: Browser, server: Server, tmp_path: Path) -> None:
    hand = open_hand(browser, tmp_path, LAPTOP)
    hand.page.goto(server.url)
    hand.page.get_by_text("This is your bench").wait_for()
    faults = {"empty": _faults(hand)}
    hand.page.get_by_role("button", name="Put it on the bench").click()
    canvas = hand.page.locator("canvas[aria-label]")
    canvas.wait_for()
    hand.settle()
    canvas.scroll_into_view_if_needed()
    drag(hand, canvas, PHOTOGRAPH)
    faults["marked"] = _faults(hand)
    hand.press("Compare the two")
    hand.page.locator(".tm-verdict").wait_for()
    hand.press("Keep it and plan")
    plans(hand)
    lay_first(hand)
    hand.page.get_by_role("heading", name="Lay a layer").wait_for()
    faults["to lay"] = _faults(hand)
    hand.press("I have laid it")
    hand.page.get_by_text("laid on").first.wait_for()
    faults["drying"] = _faults(hand)
    canvas = hand_over(hand, AFTER)
    faults["to mark"] = _faults(hand)
    drag(hand, canvas, AFTER)
    hand.press("Log this layer")
    plans(hand)
    for room in ROOMS:
        go(hand, room)
        for button in PRESSED.get(room, ("",)):
            _unfold(hand)
            if button:
                hand.page.locator("button, [role=radio]").filter(has_text=button).first.click()
                hand.settle()
            faults[f"a layer later, {room} {button}"] = _faults(hand)
    found = [f"{place}: {fault}" for place, listed in faults.items() for fault in listed]
    assert not found, "\n".join(found)
