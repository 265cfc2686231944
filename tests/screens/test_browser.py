"""The whole job in a real browser: photograph, mark by dragging, compare, plan, lay, plan anew."""

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.error import URLError
from urllib.parse import urlsplit
from urllib.request import urlopen

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, Playwright, expect, sync_playwright
from simulated_camera import SIDE, Conditions, Scene, chart, neutral, photograph, random_pair

from tonematch.logbook.store import open_logbook
from tonematch.screens import bench
from tonematch.screens.settings import streamlit_flags
from tonematch.swatchbook import swatch_path

ROOT = Path(__file__).resolve().parents[2]
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
LAPTOP, PHONE = (1280, 900), (390, 844)
PATIENCE = 60_000  # ms; two busy cores
TRUTH = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))["pictures"]
ROLES = ("card", "original", "repair")

pytestmark = pytest.mark.skipif(
    CHROMIUM is None, reason="no Chromium: install one or set TONEMATCH_CHROMIUM to its path"
)


@dataclass
class Server:
    """A running bench with a logbook of its own."""

    url: str
    logbook: Path


@contextmanager
def _serve(folder: Path, script: Path, cwd: Path, flags: list[str]) -> Iterator[Server]:
    logbook = folder / "logbook.sqlite"
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with (folder / "server.log").open("wb") as log:
        process = subprocess.Popen(
            [
                *(sys.executable, "-m", "streamlit", "run", str(script)),
                *(*flags, "--server.port", str(port)),
                *("--", "--logbook", str(logbook)),
            ],
            cwd=cwd,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    url = f"http://127.0.0.1:{port}"
    try:
        _wait_for(url)
        yield Server(url, logbook)
    finally:
        process.terminate()
        process.wait(20)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    with _serve(tmp_path, ROOT / "app.py", ROOT, []) as running:
        yield running


def _wait_for(url: str) -> None:
    for _ in range(120):
        try:
            with urlopen(f"{url}/_stcore/health", timeout=2) as answer:
                if answer.status == 200:
                    return
        except (URLError, OSError):
            time.sleep(0.5)
    pytest.fail("the server did not start within a minute")


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    running = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield running
    running.close()


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

    def hosts(self) -> set[str | None]:
        return {
            urlsplit(url).hostname
            for url in self.asked
            if urlsplit(url).scheme in ("http", "https", "ws", "wss")
        }


def _hand(browser: Browser, shots: Path, size: tuple[int, int], touch: bool = False) -> Hand:
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, has_touch=touch, is_mobile=touch
    )
    return Hand(context.new_page(), shots)


def _add_piece(hand: Hand, name: str) -> None:
    hand.page.get_by_label("Name", exact=True).fill(name)
    hand.page.get_by_text("water", exact=True).click()
    hand.page.get_by_text("burnished", exact=True).click()
    hand.press("Add this piece")
    expect(hand.page.get_by_role("heading", name="Photograph")).to_be_visible()


def _hand_over(hand: Hand, picture: str | Path) -> Locator:
    file = swatch_path("demo", picture) if isinstance(picture, str) else picture
    hand.page.locator("input[type=file]").first.set_input_files(file)
    canvas = hand.page.locator("canvas[aria-label]")
    canvas.wait_for()
    # The picture is on the canvas once it has the canvas's own shape.
    hand.page.wait_for_function(
        "c => c.width > 300 && c.style.aspectRatio !== ''", arg=canvas.element_handle()
    )
    hand.settle()
    canvas.scroll_into_view_if_needed()
    return canvas


def _corners(canvas: Locator, picture: str, role: str) -> tuple[float, float, float, float]:
    """Where the true box of an area lies in the window, CSS pixels."""
    frame = canvas.bounding_box()
    assert frame is not None
    width, height = _size(picture)
    x, y, w, h = TRUTH[picture]["areas"][role]["box"]
    sx, sy = frame["width"] / width, frame["height"] / height
    return (
        frame["x"] + x * sx,
        frame["y"] + y * sy,
        frame["x"] + (x + w) * sx,
        frame["y"] + (y + h) * sy,
    )


def _size(picture: str) -> tuple[int, int]:
    with Image.open(swatch_path("demo", picture)) as opened:
        return opened.size


def _drag(hand: Hand, canvas: Locator, picture: str) -> None:
    for role in ROLES:
        x0, y0, x1, y1 = _corners(canvas, picture, role)
        hand.page.mouse.move(x0, y0)
        hand.page.mouse.down()
        hand.page.mouse.move(x1, y1, steps=3)
        hand.page.mouse.up()
    expect(hand.page.get_by_text("All marked.")).to_be_visible()


def _touch(hand: Hand, canvas: Locator, picture: str) -> None:
    session = hand.page.context.new_cdp_session(hand.page)
    for role in ROLES:
        x0, y0, x1, y1 = _corners(canvas, picture, role)
        moves = [("touchStart", x0, y0), ("touchMove", (x0 + x1) / 2, (y0 + y1) / 2)]
        for kind, x, y in [*moves, ("touchMove", x1, y1)]:
            session.send(
                "Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]}
            )
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    expect(hand.page.get_by_text("All marked.")).to_be_visible()


def _typed_boxes(hand: Hand) -> dict[str, list[int]]:
    """What the number boxes say, by role."""
    hand.page.get_by_text("Set the marks by numbers").click()
    boxes = {}
    for role in ROLES:
        sides = (
            hand.page.get_by_label(f"{role.capitalize()}, {side} (px)")
            for side in ("left", "top", "width", "height")
        )
        boxes[role] = [int(side.input_value()) for side in sides]
    return boxes


def _assert_boxes(hand: Hand, picture: str, within: int) -> None:
    for role, box in _typed_boxes(hand).items():
        true = TRUTH[picture]["areas"][role]["box"]
        assert all(abs(a - b) <= within for a, b in zip(box, true, strict=True)), (role, box, true)


def _type_left_edge(hand: Hand, canvas: Locator, label: str, left: int) -> None:
    """A typed number is the truth, and the canvas draws it."""
    box = hand.page.get_by_label(f"{label}, left (px)")
    box.fill(str(left))
    box.press("Enter")
    hand.settle()
    drawn = canvas.evaluate("(c, role) => c.bench.boxes[role][0]", label.lower())
    assert drawn * _size("scene-1.jpg")[0] == pytest.approx(left)


def _shown_difference(hand: Hand) -> float:
    words = hand.page.get_by_text(re.compile(r"CIEDE2000 \d")).first.inner_text()
    found = re.search(r"CIEDE2000 (\d+\.\d)", words)
    assert found is not None
    return float(found[1])


def _plans(hand: Hand) -> list[str]:
    hand.page.get_by_role("heading", name=re.compile("^Plan 1")).wait_for()
    hand.settle()
    return [b.inner_text() for b in hand.page.get_by_text(re.compile("Within tolerance")).all()] + [
        b.inner_text() for b in hand.page.get_by_role("button", name=re.compile("^Lay:")).all()
    ]


def test_the_whole_job_with_a_mouse(browser: Browser, server: Server, tmp_path: Path) -> None:
    hand = _hand(browser, tmp_path, LAPTOP)
    page = hand.page
    page.goto(server.url)
    page.get_by_text("This is your bench").wait_for()
    hand.see("laptop-1-welcome")
    _add_piece(hand, "hall mirror")

    canvas = _hand_over(hand, "scene-1.jpg")
    _drag(hand, canvas, "scene-1.jpg")
    hand.see("laptop-2-marked")
    _assert_boxes(hand, "scene-1.jpg", within=3)
    _type_left_edge(hand, canvas, "Card", 716)

    hand.press("Compare the two")
    expect(page.locator(".tm-verdict")).to_contain_text("No match")
    # The rendered picture's own truth; the bound is that of Part 1 for the card alone.
    true = TRUTH["scene-1.jpg"]["delta_e_2000"]
    assert _shown_difference(hand) == pytest.approx(true, abs=1.0)
    hand.see("laptop-3-compared")

    hand.press("Keep it and plan")
    before = _plans(hand)
    hand.see("laptop-4-plan")

    hand.press("Lay:")
    page.get_by_role("heading", name="Lay a layer").wait_for()
    hand.settle()
    _choose_layer(hand, "raw umber wash", "0.75")
    canvas = _hand_over(hand, "scene-2-after-1.jpg")
    _drag(hand, canvas, "scene-2-after-1.jpg")
    hand.see("laptop-5-lay")
    hand.press("Log this layer")
    page.get_by_text("Logged: raw umber wash").wait_for()
    after = _plans(hand)
    hand.see("laptop-6-plan-anew")
    assert after != before

    page.get_by_text("Trials", exact=True).first.click()
    page.get_by_text("1 trial", exact=False).first.wait_for()
    hand.see("laptop-7-trials")

    with open_logbook(server.logbook) as logbook:
        (kept,) = logbook.kept_trials("hall mirror")
        assert kept.trial.application.layer == "raw umber wash"
        assert kept.trial.application.strength == pytest.approx(0.75)
        assert kept.before is not None
        assert kept.after is not None
        assert kept.prediction is not None
        for reading, picture in ((kept.before, "scene-1.jpg"), (kept.after, "scene-2-after-1.jpg")):
            bytes_kept = logbook.photo_bytes(reading.reading.photo_sha256)
            assert bytes_kept == swatch_path("demo", picture).read_bytes()
        assert len(logbook.comparisons("hall mirror")) == 2
        assert logbook.plans("hall mirror")
    assert hand.hosts() == {"127.0.0.1"}


def test_marking_by_touch_on_a_phone(browser: Browser, server: Server, tmp_path: Path) -> None:
    hand = _hand(browser, tmp_path, PHONE, touch=True)
    hand.page.goto(server.url)
    hand.page.get_by_text("This is your bench").wait_for()
    hand.see("phone-1-welcome")
    _add_piece(hand, "hall mirror")
    canvas = _hand_over(hand, "scene-1.jpg")
    hand.see("phone-2-photograph")
    canvas.scroll_into_view_if_needed()
    _touch(hand, canvas, "scene-1.jpg")
    hand.see("phone-3-marked")
    # A CSS pixel of the phone is about five pixels of the photograph.
    _assert_boxes(hand, "scene-1.jpg", within=8)
    hand.press("Compare the two")
    # The verdict is in sight though the button was far down the page.
    expect(hand.page.locator(".tm-verdict")).to_be_in_viewport()
    expect(hand.page.locator(".tm-verdict")).to_contain_text("No match")
    hand.see("phone-4-compared")
    hand.press("Keep it and plan")
    assert _plans(hand)
    hand.see("phone-5-plan")
    wide = hand.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= PHONE[0]
    assert hand.hosts() == {"127.0.0.1"}


def test_the_way_back_and_a_page_loaded_anew(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = _hand(browser, tmp_path, PHONE, touch=True)
    page = hand.page
    page.goto(server.url)
    page.get_by_text("This is your bench").wait_for()
    _add_piece(hand, "hall mirror")
    hand.settle()
    page.get_by_text("Trials", exact=True).first.click()
    expect(page.get_by_role("heading", name="Trials")).to_be_visible()
    hand.settle()
    page.go_back()
    expect(page.get_by_role("heading", name="Photograph")).to_be_visible()
    hand.settle()
    page.reload()
    expect(page.get_by_role("heading", name="Photograph")).to_be_visible()
    expect(page.get_by_text("On the bench: hall mirror")).to_be_visible()


def _tap(hand: Hand, x: float, y: float) -> None:
    session = hand.page.context.new_cdp_session(hand.page)
    points = [{"x": x, "y": y}]
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": points})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_a_chart_is_tapped_by_its_corners(browser: Browser, server: Server, tmp_path: Path) -> None:
    """The simulated camera's chart, whose patches touch, is found by no search."""
    pair = random_pair(np.random.default_rng(5), 3.0)[:2]
    scene = Scene([*chart(), neutral(0.18), *pair], 6)
    picture = tmp_path / "chart.jpg"
    picture.write_bytes(photograph(scene, Conditions(lamp="A"), np.random.default_rng(6)))
    hand = _hand(browser, tmp_path, PHONE, touch=True)
    page = hand.page
    page.goto(server.url)
    page.get_by_text("This is your bench").wait_for()
    _add_piece(hand, "hall mirror")
    canvas = _hand_over(hand, picture)
    page.get_by_text("More that makes the reading surer").click()
    page.get_by_text("A 24-patch chart is in the picture").click()
    page.get_by_text("tap its four corners").wait_for()
    hand.settle()
    height, width = scene.size
    for side, across, down in (
        ("upper left", 4, 4),
        ("upper right", width - 4, 4),
        ("lower right", width - 4, 4 * SIDE - 4),
        ("lower left", 4, 4 * SIDE - 4),
    ):
        page.get_by_role("button", name=f"Chart, {side}").click()
        canvas.scroll_into_view_if_needed()
        frame = canvas.bounding_box()
        assert frame is not None
        x, y = (
            frame["x"] + across * frame["width"] / width,
            frame["y"] + down * frame["height"] / height,
        )
        _tap(hand, x, y)
        page.get_by_role("button", name=f"Chart, {side}, marked").wait_for()
    hand.settle()
    hand.see("phone-chart-corners")
    page.get_by_text("Set the marks by numbers").click()
    near = page.get_by_label("Chart, lower right, across (px)")
    assert float(near.input_value()) == pytest.approx(width - 4, abs=4)
    down_box = page.get_by_label("Chart, lower right, down (px)")
    assert float(down_box.input_value()) == pytest.approx(4 * SIDE - 4, abs=4)
    expect(page.locator("[data-testid=stAlertContentError]")).to_have_count(0)


def test_a_file_that_is_no_picture_is_one_sentence(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = _hand(browser, tmp_path, LAPTOP)
    hand.page.goto(server.url)
    hand.page.get_by_text("This is your bench").wait_for()
    _add_piece(hand, "hall mirror")
    text = tmp_path / "notes.jpg"
    text.write_text("not a picture", encoding="utf-8")
    hand.page.locator("input[type=file]").first.set_input_files(text)
    told = hand.page.locator("[data-testid=stAlertContentError]")
    told.wait_for()
    assert "notes.jpg" in told.inner_text()
    assert "Traceback" not in hand.page.content()


def test_the_bench_starts_from_its_own_file_in_any_folder(browser: Browser, tmp_path: Path) -> None:
    script = Path(bench.__file__)
    with _serve(tmp_path, script, tmp_path, streamlit_flags()) as server:
        hand = _hand(browser, tmp_path, LAPTOP)
        hand.page.goto(server.url)
        hand.page.get_by_text("This is your bench").wait_for()
        hand.settle()
        _add_piece(hand, "hall mirror")
        expect(hand.page.get_by_text("Deploy")).to_have_count(0)
        assert hand.hosts() == {"127.0.0.1"}


def _choose_layer(hand: Hand, layer: str, strength: str) -> None:
    chooser = hand.page.get_by_role("combobox", name=re.compile("^.*Layer"))
    chooser.click()
    chooser.fill(layer)
    hand.page.get_by_role("option", name=re.compile(f"^{layer} ")).click()
    hand.settle()
    box = hand.page.get_by_label("Strength, 1 is the full mix")
    box.fill(strength)
    box.press("Enter")
    hand.settle()
