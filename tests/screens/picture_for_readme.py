"""Take the README's picture of the app: ``python -m tests.screens.picture_for_readme``.

The first plan for the demonstration piece. Needs Chromium and half a minute.
"""

import argparse
import re
import tempfile
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from tests.screens.hand import CHROMIUM, FLAGS, drag, open_hand
from tests.screens.served import ROOT, serve
from tonematch.screens.sections.demonstration import PHOTOGRAPH

WINDOW = (700, 2400)
MARGIN = 16
COLOURS = 64


def main() -> None:
    """Take the README's picture of the app."""
    arguments = argparse.ArgumentParser(description=main.__doc__)
    arguments.add_argument("--into", type=Path, default=ROOT / "notebooks" / "app.png")
    into: Path = arguments.parse_args().into
    with (
        tempfile.TemporaryDirectory() as folder,
        serve(Path(folder)) as server,
        sync_playwright() as playwright,
        playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS) as browser,
    ):
        hand = open_hand(browser, Path(folder), WINDOW)
        hand.page.goto(server.url)
        hand.page.get_by_text("Try it first on an invented piece").click()
        hand.press("Put it on the bench")
        canvas = hand.page.locator("canvas[aria-label]")
        canvas.wait_for()
        hand.settle()
        drag(hand, canvas, PHOTOGRAPH)
        hand.settle()
        hand.press("Compare the two")
        hand.press("Keep it and plan")
        hand.page.get_by_role("heading", name=re.compile("^Plan 1")).wait_for()
        hand.settle()
        taken = first_plan(hand.page)
    with Image.open(BytesIO(taken)) as picture:
        picture.convert("RGB").quantize(COLOURS).save(into, optimize=True)


def first_plan(page: Page) -> bytes:
    """The Plan page from both colours to where the first plan ends, as PNG."""
    colours = page.locator(".tm-swatches").first.bounding_box()
    end = page.get_by_text("At the end", exact=True).first.bounding_box()
    assert colours is not None
    assert end is not None
    top = colours["y"] - MARGIN
    height = end["y"] + end["height"] + MARGIN - top
    return page.screenshot(clip={"x": 0, "y": top, "width": WINDOW[0], "height": height})


if __name__ == "__main__":
    main()
