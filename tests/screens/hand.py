"""A running bench and a hand on its pages in a real browser, for the browser tests."""

import json
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright

from tonematch.swatchbook import swatch_path

CHROMIUM = (
    os.environ.get("TONEMATCH_CHROMIUM")
    or shutil.which("chromium")
    or shutil.which("google-chrome")
)
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
needs_chromium = pytest.mark.skipif(
    CHROMIUM is None, reason="no Chromium: install one or set TONEMATCH_CHROMIUM to its path"
)
LAPTOP, PHONE = (1280, 900), (390, 844)
PATIENCE = 60_000  # ms; two busy cores
TRUTH = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))["pictures"]
ROLES = ("card", "original", "repair")


@contextmanager
def chromium() -> Iterator[Browser]:
    """A browser for the tests, the benchmark of waits and the README's pictures."""
    with (
        sync_playwright() as playwright,
        playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS) as browser,
    ):
        yield browser


@dataclass(frozen=True)
class Picture:
    """A photograph that is handed over, and where on it the areas truly lie (x, y, w, h)."""

    file: Path
    boxes: Mapping[str, tuple[float, float, float, float]]


def demo(name: str) -> Picture:
    """A photograph of the demonstration, by its name."""
    areas = TRUTH[name]["areas"]
    roles = (*ROLES, *(role for role in areas if role not in ROLES))
    return Picture(swatch_path("demo", name), {role: areas[role]["box"] for role in roles})


@dataclass
class Hand:
    """A page with a hand on it, and every address that the page asked for."""

    page: Page
    shots: Path
    asked: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.set_default_timeout(PATIENCE)
        expect.set_options(timeout=PATIENCE)
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("websocket", lambda socket: self.asked.append(socket.url))

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name).first.click()

    def see(self, name: str) -> None:
        self.settle()
        # Streamlit scrolls inside the page, so the window is made as high as what is in it.
        size = self.page.viewport_size
        assert size is not None
        height = self.page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        self.page.set_viewport_size({"width": size["width"], "height": max(size["height"], height)})
        self.page.wait_for_timeout(400)
        self.page.screenshot(path=self.shots / f"{name}.png")
        self.page.set_viewport_size(size)

    def settle(self) -> None:
        self.page.wait_for_timeout(300)
        self.page.locator("[data-testid=stApp][data-test-script-state=running]").wait_for(
            state="detached"
        )
        self.page.wait_for_timeout(300)

    def hosts(self) -> set[str]:
        """Each name with its port."""
        return {
            urlsplit(url).netloc
            for url in self.asked
            if urlsplit(url).scheme in ("http", "https", "ws", "wss")
        }


def open_hand(browser: Browser, shots: Path, size: tuple[int, int], touch: bool = False) -> Hand:
    """A fresh page of some size."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, has_touch=touch, is_mobile=touch
    )
    return Hand(context.new_page(), shots)


def add_piece(hand: Hand, name: str) -> None:
    """Describe a water gilded, burnished piece and go on to its photograph."""
    hand.page.get_by_label("Name", exact=True).fill(name)
    hand.page.get_by_text("water gilding, burnished").click()
    hand.press("Add this piece")
    expect(hand.page.get_by_role("heading", name="Photograph")).to_be_visible()


def begin(hand: Hand, url: str) -> None:
    """Open an empty bench, and add a piece to it."""
    hand.page.goto(url)
    hand.page.get_by_text("This is your bench").wait_for()
    add_piece(hand, "hall mirror")


def go(hand: Hand, room: str) -> None:
    """Another page, by its place or step at the top."""
    hand.page.locator(f".st-key-to-{room.replace(' ', '-')} button").click()
    expect(hand.page.get_by_role("heading", name=room, exact=True)).to_be_visible()


def uploader(hand: Hand) -> Locator:
    """Where a photograph is handed over.

    The piece's page, which takes a logbook's file, goes only when the page after it is whole.
    """
    return hand.page.locator("input[type=file][accept*='.jpg']").first


def hand_over(hand: Hand, picture: str | Path) -> Locator:
    """Hand a photograph over, by its name in the demonstration or its path; gives the canvas."""
    file = swatch_path("demo", picture) if isinstance(picture, str) else picture
    uploader(hand).set_input_files(file)
    return shown_canvas(hand)


def shown_canvas(hand: Hand) -> Locator:
    """The canvas once its picture is there."""
    canvas = hand.page.locator("canvas[aria-label]")
    canvas.wait_for()
    # The picture is on the canvas once that has its shape; a canvas as it is born is 150 high.
    expect(canvas).to_have_css("aspect-ratio", re.compile(r"\d"))
    expect(canvas).not_to_have_js_property("height", 150)
    hand.settle()
    canvas.scroll_into_view_if_needed()
    return canvas


def true_corners(
    canvas: Locator, picture: str | Picture, role: str
) -> tuple[float, float, float, float]:
    """Where the true box of an area lies in the window, CSS pixels."""
    frame = canvas.bounding_box()
    assert frame is not None
    shown = demo(picture) if isinstance(picture, str) else picture
    width, height = size_of(shown)
    x, y, w, h = shown.boxes[role]
    sx, sy = frame["width"] / width, frame["height"] / height
    return (
        frame["x"] + x * sx,
        frame["y"] + y * sy,
        frame["x"] + (x + w) * sx,
        frame["y"] + (y + h) * sy,
    )


def size_of(picture: str | Picture) -> tuple[int, int]:
    """Width and height in pixels; of the demonstration by its name."""
    shown = demo(picture) if isinstance(picture, str) else picture
    with Image.open(shown.file) as opened:
        return opened.size


def drag(hand: Hand, canvas: Locator, picture: str | Picture) -> None:
    """Mark all areas with the mouse; white and black card are chosen first."""
    for role in (demo(picture) if isinstance(picture, str) else picture).boxes:
        if role not in ROLES:  # those follow each other by themselves
            hand.page.get_by_role("button", name=role.capitalize()).click()
        x0, y0, x1, y1 = true_corners(canvas, picture, role)
        hand.page.mouse.move(x0, y0)
        hand.page.mouse.down()
        hand.page.mouse.move(x1, y1, steps=3)
        hand.page.mouse.up()
        hand.settle()
    expect(hand.page.get_by_text("All marked.")).to_be_visible()


def touch(hand: Hand, canvas: Locator, picture: str | Picture) -> None:
    """Mark all three areas with a finger."""
    session = hand.page.context.new_cdp_session(hand.page)
    for role in ROLES:
        x0, y0, x1, y1 = true_corners(canvas, picture, role)
        moves = [("touchStart", x0, y0), ("touchMove", (x0 + x1) / 2, (y0 + y1) / 2)]
        for kind, x, y in [*moves, ("touchMove", x1, y1)]:
            session.send(
                "Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]}
            )
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        hand.settle()  # no finger marks the next area within a tenth of a second
    expect(hand.page.get_by_text("All marked.")).to_be_visible()


def open_fold(hand: Hand, name: str) -> None:
    """Open a fold and wait until it stands: while it opens, what is pressed in it moves away."""
    summary = hand.page.locator("summary").filter(has_text=name).first
    summary.click()
    fold = summary.locator("xpath=..").element_handle()
    hand.page.wait_for_function("fold => fold.open && !fold.style.height", arg=fold)


def typed_boxes(hand: Hand) -> dict[str, list[int]]:
    """What the number boxes say, by role."""
    open_fold(hand, "Settings")
    open_fold(hand, "Set the marks by numbers")
    boxes: dict[str, list[int]] = {}
    for role in ROLES:
        boxes[role] = []
        for side in ("left", "top", "width", "height"):
            box = hand.page.get_by_label(f"{role.capitalize()}, {side} (px)", exact=True)
            expect(box).to_have_value(re.compile(r"\d"))  # on a busy machine it fills late
            boxes[role].append(int(box.input_value()))
    return boxes


def assert_boxes(hand: Hand, picture: Picture, within: int) -> None:
    """Hold what the number boxes say against the true boxes, in pixels."""
    for role, box in typed_boxes(hand).items():
        true = picture.boxes[role]
        assert all(abs(a - b) <= within for a, b in zip(box, true, strict=True)), (role, box, true)


def type_left_edge(hand: Hand, canvas: Locator, label: str, left: int) -> None:
    """A typed number is the truth, and the canvas draws it."""
    box = hand.page.get_by_label(f"{label}, left (px)", exact=True)
    box.fill(str(left))
    box.press("Enter")
    hand.settle()
    drawn = canvas.evaluate("(c, role) => c.bench.boxes[role][0]", label.lower())
    assert drawn * size_of("scene-1.jpg")[0] == pytest.approx(left)


def shown_difference(hand: Hand) -> float:
    """The CIEDE2000 that the page says, in its fold."""
    open_fold(hand, "In numbers, for specialists")
    hand.settle()
    words = hand.page.get_by_text(re.compile(r"CIEDE2000 \d")).first.inner_text()
    found = re.search(r"CIEDE2000 (\d+\.\d)", words)
    assert found is not None
    return float(found[1])


def plans(hand: Hand) -> list[str]:
    """What the plans are, or what is laid to learn from, and their buttons."""
    hand.page.get_by_text("Choose the strips").wait_for()  # with whatever answer
    hand.settle()
    named = hand.page.get_by_role("heading", name=re.compile(r"^(Plan \d|Laid to learn|The best)"))
    return [one.inner_text() for one in (*named.all(), *_lays(hand).all())]


def lay_first(hand: Hand) -> None:
    """Take up the first step that the Plan page offers."""
    _lays(hand).first.click()


def _lays(hand: Hand) -> Locator:
    return hand.page.get_by_role("button", name=re.compile("^(Lay|To learn):"))


def tap(hand: Hand, x: float, y: float) -> None:
    """Touch one place, CSS pixels."""
    session = hand.page.context.new_cdp_session(hand.page)
    points = [{"x": x, "y": y}]
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
