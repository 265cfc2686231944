"""The README's pictures of the bench: ``python -m tests.screens.picture_for_readme``.

The verdict and the plan for the demonstration piece, then the page of all pieces while its first
layer dries beside two further invented ones. Needs Chromium and a minute.
"""

import argparse
import tempfile
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Locator

from tests.screens.hand import (
    Hand,
    add_piece,
    begin,
    chromium,
    drag,
    go,
    hand_over,
    lay_first,
    open_fold,
    open_hand,
    plans,
)
from tests.screens.served import ROOT, serve

WINDOW = (700, 2400)
MARGIN = 16
COLOURS = 64


def main() -> None:
    """Take the pictures today.png, verdict.png and app.png, which is the plan."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("--into", type=Path, default=ROOT / "notebooks")
    into: Path = arguments.parse_args().into
    with (
        tempfile.TemporaryDirectory() as folder,
        serve(Path(folder)) as server,
        chromium() as browser,
    ):
        hand = open_hand(browser, Path(folder), WINDOW)
        page = hand.page
        begin(hand, server.url)
        go(hand, "Today")
        open_fold(hand, "Add a piece")
        add_piece(hand, "console table")
        _compare(hand, "scene-3.jpg")
        hand.press("Keep it")
        page.get_by_role("heading", name="Plan", exact=True).wait_for()
        hand.settle()
        go(hand, "Today")
        open_fold(hand, "Try it first on an invented piece")
        hand.press("Put it on the bench")
        page.locator("canvas[aria-label]").wait_for()
        hand.settle()
        _compare(hand)
        keep(hand, page.get_by_test_id("stImage"), page.locator(".tm-ruler"), into / "verdict.png")
        hand.press("Keep it")
        plans(hand)
        lay = page.get_by_role("button", name="Lay:")
        keep(hand, page.locator(".tm-ruler"), lay, into / "app.png")
        lay_first(hand)
        hand.press("I have laid it")
        page.get_by_text("laid on").first.wait_for()
        go(hand, "Today")
        hand.settle()
        page.wait_for_function("[...document.images].every((one) => one.naturalWidth)")
        begun, end = page.get_by_role("heading", name="Today"), page.get_by_text("Add a piece")
        keep(hand, begun, end, into / "today.png")


def _compare(hand: Hand, picture: str = "") -> None:
    """Compare what is marked already, or a picture of the demonstration once it is marked."""
    if picture:
        drag(hand, hand_over(hand, picture), picture)
    hand.press("Compare the two")
    hand.page.locator(".tm-verdict").wait_for()
    hand.settle()


def keep(hand: Hand, first: Locator, last: Locator, into: Path) -> None:
    """Keep the page from the top of one thing to the end of another, as a small PNG."""
    top, end = first.first.bounding_box(), last.first.bounding_box()
    assert top is not None
    assert end is not None
    y = top["y"] - MARGIN
    height = end["y"] + end["height"] + MARGIN - y
    taken = hand.page.screenshot(clip={"x": 0, "y": y, "width": WINDOW[0], "height": height})
    with Image.open(BytesIO(taken)) as picture:
        picture.convert("RGB").quantize(COLOURS).save(into, optimize=True)


if __name__ == "__main__":
    main()
