"""The whole job in a real browser: photograph, mark by dragging, compare, plan, lay, plan anew."""

import re
from collections.abc import Callable
from io import BytesIO
from itertools import combinations
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from playwright.sync_api import Browser, Locator, Route, expect

from tests.cli.picture_files import NEW_LAB, OLD_LAB, saved
from tests.measure.chart_photographs import CARD, NO_PHOTOS, PHOTOS, are_there, chart_photograph
from tests.measure.painted import GREY, lab_to_light, painted_light
from tests.measure.simulated_camera import (
    SIDE,
    Conditions,
    Scene,
    chart,
    neutral,
    photograph,
    random_pair,
)
from tests.screens.hand import (
    LAPTOP,
    PHONE,
    ROLES,
    TRUTH,
    Hand,
    Picture,
    add_piece,
    assert_boxes,
    begin,
    demo,
    drag,
    go,
    hand_over,
    lay_first,
    needs_chromium,
    open_fold,
    open_hand,
    plans,
    shown_canvas,
    shown_difference,
    size_of,
    tap,
    touch,
    true_corners,
    type_left_edge,
    typed_boxes,
    uploader,
)
from tests.screens.served import Server, serve
from tests.screens.test_plain import HOSTILE
from tests.screens.toned_piece import make_toned
from tonematch.logbook.store import open_logbook
from tonematch.measure.area.areas import bounds
from tonematch.measure.colour.colour_science import colour
from tonematch.swatchbook import swatch_path

pytestmark = needs_chromium


def _chart(name: str) -> Picture:
    """A photograph of a chart: its grey is the card, two of its patches old gold and new."""
    if not are_there():
        pytest.skip(NO_PHOTOS)
    shown = chart_photograph(f"phones/{name}")
    patches = {"card": CARD, "original": "orange yellow", "repair": "yellow"}
    within = {role: bounds(shown.areas[patch]) for role, patch in patches.items()}
    boxes = {role: (x, y, right - x, down - y) for role, (x, y, right, down) in within.items()}
    return Picture(PHOTOS / "phones" / name, boxes)


# By a mouse all areas are marked, white and black card too; by a finger card, original and repair.
BY_MOUSE = pytest.param(LAPTOP, drag, 3, id="laptop")
BY_FINGER = pytest.param(PHONE, touch, 8, id="phone")  # a CSS pixel is five of the photograph


@pytest.mark.proof
@pytest.mark.parametrize(("size", "mark", "within"), [BY_MOUSE, BY_FINGER])
@pytest.mark.parametrize("of", ["demonstration", "real photographs"])
def test_the_whole_job_from_an_empty_logbook_to_the_printed_record(
    browser: Browser,
    server: Server,
    tmp_path: Path,
    of: str,
    size: tuple[int, int],
    mark: Callable[[Hand, Locator, Picture], None],
    within: int,
) -> None:
    invented = of == "demonstration"
    pictures = (
        [demo("scene-1.jpg"), demo("scene-2-after-1.jpg")]
        if invented
        else [_chart("jtvd_color_checker_1_.jpg"), _chart("jtvd_color_checker_2_.jpg")]
    )
    hand = open_hand(browser, tmp_path, size, touch=size == PHONE)
    page, (before, after) = hand.page, pictures
    page.goto(server.url)
    page.get_by_text("This is your bench").wait_for()
    expect(page.get_by_text("Deploy")).to_have_count(0)
    add_piece(hand, "hall mirror")
    mark(hand, hand_over(hand, before.file), before)
    assert_boxes(hand, before, within)
    hand.press("Compare the two")
    # The verdict is in sight though the button was far down the page.
    expect(page.locator(".tm-verdict")).to_be_in_viewport()
    expect(page.locator(".tm-verdict")).to_contain_text("Not there yet")
    # The new gold is truly the lighter, as rendered and as the maker of the chart has it.
    expect(page.locator(".tm-words")).to_contain_text(re.compile("lighter .*than the original"))
    if invented:
        # The rendered picture's own truth; the bound is what was asked of the card alone.
        true = TRUTH["scene-1.jpg"]["delta_e_2000"]
        assert shown_difference(hand) == pytest.approx(true, abs=1.0)
    hand.press("Keep it and plan")
    planned = plans(hand)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    hand.see("plan")
    lay_first(hand)
    page.get_by_role("heading", name="Lay a layer").wait_for()
    hand.press("I have laid it")
    page.get_by_text(" laid on ").first.wait_for()
    mark(hand, hand_over(hand, after.file), after)
    hand.press("Log this layer")
    page.get_by_text("Logged: ").wait_for()
    assert plans(hand) != planned
    if invented:  # whose marked cards leave nothing to be warned of
        proposed = page.get_by_role("button", name=re.compile("^(Lay|To learn): "))
        lays = proposed.or_(page.get_by_text("Stop here")).first.bounding_box()
        assert lays is not None
        assert 0 < lays["y"] < lays["y"] + lays["height"] <= 2 * size[1]
    go(hand, "Compare")
    expect(page.locator(".tm-verdict")).to_be_visible()
    go(hand, "Logbook")
    page.get_by_text("1 of 1", exact=False).first.wait_for()

    written = _record(hand)
    with open_logbook(server.logbook) as logbook:
        (kept,) = logbook.kept_trials("hall mirror")
        readings = (kept.before, kept.after)
        for reading, picture in zip(readings, pictures, strict=True):
            assert reading is not None
            assert logbook.photo_bytes(reading.reading.photo_sha256) == picture.file.read_bytes()
        assert kept.prediction is not None
        assert len(logbook.history("hall mirror").comparisons) == 2
        assert logbook.history("hall mirror").proposals
    for words in ("hall mirror", kept.trial.application.layer):
        assert all(words in each for each in written)
    assert hand.hosts() == {server.host}


def _record(hand: Hand) -> tuple[str, str]:
    """The record as it is handed over: the page's text, and what stands on its sheets of paper."""
    go(hand, "Record")
    hand.press("Write the record")
    page, sheets = (_saved(hand, f"Save the record ({kind})") for kind in ("HTML", "PDF"))
    printed = [s.get_textpage().get_text_range() for s in pypdfium2.PdfDocument(sheets)]
    hand.page.goto(page.as_uri())
    pictures = hand.page.evaluate("[...document.images].map((one) => one.naturalWidth)")
    assert pictures
    assert all(pictures)
    return hand.page.inner_text("body"), " ".join(" ".join(printed).split())


def _saved(hand: Hand, button: str) -> Path:
    """What a button hands over as a file."""
    with hand.page.expect_download() as download:
        hand.press(button)
    into = hand.shots / download.value.suggested_filename
    download.value.save_as(into)
    return into


@pytest.mark.proof
def test_the_way_back_and_a_page_loaded_anew(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = open_hand(browser, tmp_path, PHONE, touch=True)
    page = hand.page
    page.goto(server.url)
    page.get_by_text("This is your bench").wait_for()
    add_piece(hand, HOSTILE)
    hand.settle()
    go(hand, "Logbook")
    hand.settle()
    page.go_back()
    expect(page.get_by_role("heading", name="Photograph")).to_be_visible()
    hand.settle()
    page.reload()
    expect(page.get_by_role("heading", name="Photograph")).to_be_visible()
    # What was typed is read as it was typed, and no picture in it is fetched from anywhere.
    expect(page.get_by_text(f"On the bench: {HOSTILE}")).to_be_visible()
    for room in ("Compare", "Plan", "Lay a layer", "Record", "Shelf", "Piece", "Help", "Today"):
        go(hand, room)
        hand.settle()
    assert hand.hosts() == {server.host}


@pytest.mark.proof
def test_marking_goes_on_after_a_reload_and_in_another_tab(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = open_hand(browser, tmp_path, LAPTOP)
    begin(hand, server.url)
    canvas = hand_over(hand, "scene-1.jpg")
    _drag_role(hand, canvas, "card")
    hand.page.reload()
    canvas = shown_canvas(hand)
    _assert_marked(canvas, "card")
    _drag_role(hand, canvas, "original")
    # Another tab of the same browser, which holds the token of this start.
    other = Hand(hand.page.context.new_page(), tmp_path)
    other.page.goto(hand.page.url)
    beside = shown_canvas(other)
    _assert_marked(beside, "card", "original")
    _drag_role(other, beside, "repair")
    hand.page.reload()
    canvas = shown_canvas(hand)
    _assert_marked(canvas, "card", "original", "repair")
    go(hand, "Today")
    expect(hand.page.get_by_role("button", name="Go on marking")).to_be_visible()


def _drag_role(hand: Hand, canvas: Locator, role: str) -> None:
    x0, y0, x1, y1 = true_corners(canvas, "scene-1.jpg", role)
    hand.page.mouse.move(x0, y0)
    hand.page.mouse.down()
    hand.page.mouse.move(x1, y1, steps=3)
    hand.page.mouse.up()
    hand.settle()


def _assert_marked(canvas: Locator, *roles: str) -> None:
    width, height = size_of("scene-1.jpg")
    marked = canvas.evaluate("c => c.bench.boxes")
    assert sorted(marked) == sorted(roles)
    for role in roles:
        x, y, w, h = TRUTH["scene-1.jpg"]["areas"][role]["box"]
        wanted = [x / width, y / height, w / width, h / height]
        assert marked[role] == pytest.approx(wanted, abs=0.003)


@pytest.mark.proof
def test_a_chart_is_tapped_by_its_corners(browser: Browser, server: Server, tmp_path: Path) -> None:
    """The simulated camera's chart, whose patches touch, is found by no search."""
    pair = random_pair(np.random.default_rng(5), 3.0)[:2]
    scene = Scene([*chart(), neutral(0.18), *pair], 6)
    picture = tmp_path / "chart.jpg"
    picture.write_bytes(photograph(scene, Conditions(lamp="A"), np.random.default_rng(6)))
    hand = open_hand(browser, tmp_path, PHONE, touch=True)
    page = hand.page
    begin(hand, server.url)
    canvas = hand_over(hand, picture)
    open_fold(hand, "Settings")
    open_fold(hand, "More that makes the reading surer")
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
        canvas.evaluate("c => c.scrollIntoView({ block: 'center' })")
        frame = canvas.bounding_box()
        assert frame is not None
        x, y = (
            frame["x"] + across * frame["width"] / width,
            frame["y"] + down * frame["height"] / height,
        )
        tap(hand, x, y)
        page.get_by_role("button", name=f"Chart, {side}, marked").wait_for()
    hand.settle()
    hand.see("phone-chart-corners")
    open_fold(hand, "Set the marks by numbers")
    near = page.get_by_label("Chart, lower right, across (px)")
    expect(near).to_have_value(re.compile(r"\d"))  # on a busy machine it fills late
    assert float(near.input_value()) == pytest.approx(width - 4, abs=4)
    down_box = page.get_by_label("Chart, lower right, down (px)")
    assert float(down_box.input_value()) == pytest.approx(4 * SIDE - 4, abs=4)
    expect(page.locator("[data-testid=stAlertContentError]")).to_have_count(0)


@pytest.mark.proof
def test_a_file_that_is_no_picture_is_one_sentence(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = open_hand(browser, tmp_path, LAPTOP)
    begin(hand, server.url)
    text = tmp_path / "notes.jpg"
    text.write_text("not a picture", encoding="utf-8")
    uploader(hand).set_input_files(text)
    told = hand.page.locator("[data-testid=stAlertContentError]")
    told.wait_for()
    assert "notes.jpg" in told.inner_text()
    assert "Traceback" not in hand.page.content()
    # Streamlit takes screens/pages for pages of its own, unless it is told not to list them.
    expect(hand.page.get_by_test_id("stSidebarNav")).to_have_count(0)


def _box_on(canvas: Locator, role: str) -> list[float]:
    """A marked box as the canvas holds it, in fractions of the picture."""
    box = canvas.evaluate("(c, role) => c.bench.boxes[role]", role)
    return [float(part) for part in box]


@pytest.mark.proof
def test_marks_are_moved_resized_and_made_by_keys(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = open_hand(browser, tmp_path, LAPTOP)
    begin(hand, server.url)
    canvas = hand_over(hand, "scene-1.jpg")
    drag(hand, canvas, "scene-1.jpg")
    frame = canvas.bounding_box()
    assert frame is not None
    across, down = 30 / frame["width"], 20 / frame["height"]
    before = _box_on(canvas, "original")
    x0, y0, x1, y1 = true_corners(canvas, "scene-1.jpg", "original")
    mouse = hand.page.mouse

    def pull(x: float, y: float) -> None:
        mouse.move(x, y)
        mouse.down()
        mouse.move(x + 30, y + 20, steps=3)
        mouse.up()
        hand.settle()

    pull((x0 + x1) / 2, (y0 + y1) / 2)
    moved = _box_on(canvas, "original")
    wanted = [before[0] + across, before[1] + down, *before[2:]]
    assert moved == pytest.approx(wanted, abs=0.002)
    pull(x1 + 30, y1 + 20)
    resized = _box_on(canvas, "original")
    wanted = [*moved[:2], moved[2] + across, moved[3] + down]
    assert resized == pytest.approx(wanted, abs=0.002)

    # By keys alone: to the repair, to the right, and narrower; the number boxes take it.
    before = _box_on(canvas, "repair")
    canvas.focus()
    for key in ("Tab", "Tab", "ArrowRight", "ArrowRight", "Shift+ArrowLeft"):
        hand.page.keyboard.press(key)
    expect(hand.page.get_by_text("Repair: ")).to_contain_text("Arrows move it")
    step = 4 / frame["width"]
    after = _box_on(canvas, "repair")
    wanted = [before[0] + 2 * step, before[1], before[2] - step, before[3]]
    assert after == pytest.approx(wanted, abs=0.002)
    hand.page.wait_for_timeout(800)
    hand.settle()
    typed = typed_boxes(hand)["repair"]
    assert typed[0] == pytest.approx(after[0] * size_of("scene-1.jpg")[0], abs=2)
    type_left_edge(hand, canvas, "Card", 716)
    # Whoever came in by keys gets out by them.
    canvas.focus()
    for _ in range(8):
        hand.page.keyboard.press("Tab")
    assert not canvas.evaluate("c => c.getRootNode().activeElement === c")


@pytest.mark.proof
@pytest.mark.parametrize("size", [LAPTOP, PHONE])
def test_the_picture_stands_still_while_it_is_marked_and_a_push_stretches_no_box(
    browser: Browser, server: Server, tmp_path: Path, size: tuple[int, int]
) -> None:
    picture = demo("overexposed.jpg")  # whose card is not found
    hand = open_hand(browser, tmp_path, size)
    begin(hand, server.url)
    canvas = hand_over(hand, picture.file)
    expect(hand.page.get_by_text("No grey card was found")).to_be_visible()
    corners = {role: true_corners(canvas, picture, role) for role in ROLES}
    for role in ROLES:
        x0, y0, x1, y1 = true_corners(canvas, picture, role)
        assert (x0, y0, x1, y1) == pytest.approx(corners[role], abs=1)
        hand.page.mouse.move(x0, y0)
        hand.page.mouse.down()
        if role == "repair":  # and where something does come above it
            canvas.evaluate("c => { c.style.marginTop = '90px' }")
        hand.page.mouse.move(x1, y1, steps=3)
        hand.page.mouse.up()
        hand.settle()
    canvas.evaluate("c => { c.style.marginTop = '' }")
    for role in ROLES:
        assert true_corners(canvas, picture, role) == pytest.approx(corners[role], abs=1)
    assert_boxes(hand, picture, 3)


@pytest.mark.proof
@pytest.mark.parametrize("size", [LAPTOP, PHONE])
def test_nothing_moves_under_a_hand_as_what_was_said_goes_or_undo_comes(
    browser: Browser, server: Server, tmp_path: Path, size: tuple[int, int]
) -> None:
    hand = open_hand(browser, tmp_path, size)
    page = hand.page

    def stays(seen: Locator, act: Callable[[], None]) -> None:
        seen.evaluate("one => { one.isOld = true }")
        before = seen.bounding_box()
        act()
        hand.settle()
        assert seen.bounding_box() == before
        assert seen.evaluate("one => one.isOld")

    page.goto(server.url)
    open_fold(hand, "Try it first")
    hand.press("Put it on the bench")
    expect(page.get_by_text("The invented piece is on the bench")).to_be_visible()
    canvas = shown_canvas(hand)
    x0, y0, x1, y1 = true_corners(canvas, "scene-1.jpg", "original")
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    canvas.evaluate("c => c.scrollIntoView({ block: 'center' })")
    hand.settle()
    stays(canvas, lambda: _pull(hand, (x, y), (x + 6, y + 4), finger=False))
    hand.press("Compare the two")
    hand.press("Keep it and plan")
    plans(hand)
    lay_first(hand)
    temperature = page.get_by_label(re.compile("^Temperature"))
    temperature.wait_for()
    hand.settle()

    def answer() -> None:
        temperature.fill("18")
        temperature.press("Enter")

    stays(page.get_by_text("Relative humidity"), answer)
    expect(page.get_by_role("button", name="Undo")).to_be_in_viewport()
    hand.see(f"undo-{size[0]}")
    # What is done is said in sight, though the page is the same; the offer goes with what is next.
    hand.press("I have laid it")
    page.get_by_text(" laid on ").first.wait_for()
    expect(page.get_by_role("button", name="Undo")).to_have_count(0)
    hand.press("Not laid after all")
    expect(page.get_by_text("Nothing is learned from it")).to_be_in_viewport()
    coats = page.get_by_label("Coats", exact=True)
    coats.evaluate("one => one.scrollIntoView({ block: 'center' })")
    hand.settle()
    stays(page.get_by_text("Coats", exact=True), lambda: coats.press("ArrowUp"))


@pytest.mark.proof
def test_a_picture_that_comes_late_moves_nothing(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    """As over a workshop's wireless network."""
    hand = open_hand(browser, tmp_path, PHONE)
    page, late = hand.page, list[Route]()
    page.goto(server.url)
    open_fold(hand, "Try it first")
    hand.press("Put it on the bench")
    shown_canvas(hand)
    hand.press("Compare the two")
    page.get_by_role("button", name="Keep it and plan").wait_for()

    def hold(route: Route) -> None:
        late.append(route)

    page.route(re.compile("//[^/]+/media/"), hold)
    hand.press("Keep it and plan")
    plans(hand)
    lay = page.get_by_role("button", name=re.compile("^Lay:")).first
    pictures = "[...document.querySelectorAll('[data-testid=stImage] img')]"
    here = f"{pictures}.every((one) => one.naturalWidth)"
    assert not page.evaluate(here)
    before = lay.bounding_box()
    for route in late:
        route.continue_()
    page.wait_for_function(here)
    assert lay.bounding_box() == before


@pytest.mark.proof
@pytest.mark.parametrize("size", [LAPTOP, PHONE])
def test_carved_work_is_marked_corner_by_corner(
    browser: Browser, server: Server, tmp_path: Path, size: tuple[int, int]
) -> None:
    """By mouse or finger, and by keys; what lies beside is not read; a reload loses nothing."""
    across, down = CARVED_SIZE
    finger = size == PHONE
    hand = open_hand(browser, tmp_path, size, touch=finger)
    begin(hand, server.url)
    canvas = hand_over(hand, _carved(tmp_path / "carved.png"))

    def in_window(x: float, y: float) -> tuple[float, float]:
        frame = canvas.bounding_box()
        assert frame is not None
        return frame["x"] + x * frame["width"] / across, frame["y"] + y * frame["height"] / down

    def put(x: float, y: float) -> None:
        canvas.evaluate("c => c.scrollIntoView({ block: 'center' })")
        tap(hand, *in_window(x, y)) if finger else hand.page.mouse.click(*in_window(x, y))
        hand.settle()

    def assert_corners(*corners: tuple[float, float]) -> None:
        wanted = [part for x, y in corners for part in (x / across, y / down)]
        assert _box_on(canvas, "original") == pytest.approx(wanted, abs=2 / 320)

    put(100, 100)
    expect(hand.page.locator("canvas[aria-label*='Card: marked']")).to_have_count(1)
    # In the wrong order the sides cross: that is said, and nothing is marked.
    first, *others = corners = [(390, 26), (474, 26), (474, 214), (290, 214)]
    for corner in (first, others[1], others[0], others[2]):
        put(*corner)
    hand.press("Close the shape")
    expect(hand.page.get_by_text("The sides cross there")).to_be_visible()
    for _ in corners:
        hand.press("Take back a corner")
    for corner in (*corners, first):
        put(*corner)
    four = hand.page.locator("canvas[aria-label*='Original: marked by 4 corners']")
    expect(four).to_have_count(1)
    hand.see(f"carved-{size[0]}")
    expect(hand.page.locator(".tm-held li", has_text="Original")).to_contain_text("even")
    hand.page.reload()
    canvas = shown_canvas(hand)
    expect(four).to_have_count(1)
    assert_corners(*corners)
    # The repair as a box; then a corner is taken hold of, 8 pixels beside its middle, and put back.
    for places in (((290, 260), (470, 440)), ((480, 32), (430, 60)), ((430, 60), (480, 32))):
        canvas.evaluate("c => c.scrollIntoView({ block: 'center' })")
        _pull(hand, in_window(*places[0]), in_window(*places[1]), finger)
    expect(hand.page.get_by_text("All marked.")).to_be_visible()
    canvas.focus()
    for key in ("Tab", "Tab", "Tab", "ArrowRight", "ArrowLeft"):
        hand.page.keyboard.press(key)
    expect(hand.page.get_by_text("Original, corner 2 of 4: ")).to_be_visible()
    hand.page.wait_for_timeout(800)
    hand.settle()
    assert_corners(*corners)
    hand.press("Compare the two")
    hand.press("Keep it and plan")
    plans(hand)
    with open_logbook(server.logbook) as logbook:
        (kept,) = logbook.history("hall mirror").comparisons
    reading = kept.original.reading
    assert np.array(reading.area.corners) == pytest.approx(np.array(corners), abs=4)
    assert colour.delta_E(reading.lab, OLD_LAB) < 0.5


CARVED_SIZE = (560, 480)


def _carved(path: Path) -> Path:
    """A card and two golds, the upper cut through aslant by dark carving."""
    gold = {(280, 20, 200, 200): OLD_LAB, (280, 250, 200, 200): NEW_LAB}
    light = painted_light({(20, 20, 160, 160): GREY, **gold}, CARVED_SIZE)
    x, y = np.arange(CARVED_SIZE[0]), np.arange(CARVED_SIZE[1])[:, None]
    carved = (x >= 280) & (y >= 20) & (y < 220) & (x - 280 < (220 - y) / 2)
    light[carved] = lab_to_light(np.array([30.0, 4.0, 12.0]))
    return saved(0.9 * light, path, noise=0.01)


def _pull(hand: Hand, start: tuple[float, float], end: tuple[float, float], finger: bool) -> None:
    if finger:
        session = hand.page.context.new_cdp_session(hand.page)
        for kind, (x, y) in (("touchStart", start), ("touchMove", end)):
            session.send(
                "Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]}
            )
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    else:
        hand.page.mouse.move(*start)
        hand.page.mouse.down()
        hand.page.mouse.move(*end, steps=3)
        hand.page.mouse.up()
    hand.settle()


def _tab_to(hand: Hand, name: str) -> None:
    """Go on by the tabulator to what bears a name, as a screen reader says it."""
    said = """() => { let one = document.activeElement;
      while (one.shadowRoot?.activeElement) one = one.shadowRoot.activeElement;
      if (!one.matches("input, button, summary, canvas")) return "";
      return (one.getAttribute("aria-label") ?? "") + (one.closest("label") ?? one).textContent }"""
    for _ in range(60):
        hand.page.keyboard.press("Tab")
        if name in hand.page.evaluate(said):
            return
    pytest.fail(f"No key leads to {name!r}")


@pytest.mark.proof
def test_keys_alone_lead_from_an_empty_bench_to_the_verdict(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = open_hand(browser, tmp_path, LAPTOP)
    keyboard = hand.page.keyboard
    hand.page.goto(server.url)
    hand.page.get_by_text("This is your bench").wait_for()
    hand.settle()
    _tab_to(hand, "Name")
    keyboard.type("hall mirror")
    _tab_to(hand, "not known yet")
    keyboard.press("ArrowDown")  # round to the first
    _tab_to(hand, "Add this piece")
    keyboard.press("Enter")
    expect(hand.page.get_by_role("heading", name="Photograph")).to_be_visible()
    hand.settle()
    with hand.page.expect_file_chooser() as chooser:  # from before the keys: it takes a moment
        _tab_to(hand, "Upload")
        keyboard.press("Enter")
    chooser.value.set_files(swatch_path("demo", "scene-1.jpg"))
    canvas = hand.page.locator("canvas[aria-label]")
    canvas.wait_for()
    hand.settle()
    _tab_to(hand, "The photograph")
    keyboard.press("Enter")  # the card that was found
    for role in ("original", "repair"):
        keyboard.press("Tab")
        true = TRUTH["scene-1.jpg"]["areas"][role]["box"]
        width, height = size_of("scene-1.jpg")
        keyboard.press("ArrowDown")
        for axis, (less, more), size in (
            (0, ("ArrowLeft", "ArrowRight"), width), (1, ("ArrowUp", "ArrowDown"), height),
        ):  # fmt: skip
            step = 4 / canvas.evaluate(f"c => c.client{'Height' if axis else 'Width'}")
            for hold, part in (("", axis), ("Shift+", axis + 2)):
                steps = round((true[part] / size - _box_on(canvas, role)[part]) / step)
                for _ in range(abs(steps)):
                    keyboard.press(f"{hold}{more if steps > 0 else less}")
    hand.page.wait_for_timeout(800)
    hand.settle()
    _tab_to(hand, "Compare the two")
    keyboard.press("Enter")
    expect(hand.page.locator(".tm-verdict")).to_contain_text("Not there yet")
    with open_logbook(server.logbook) as logbook:
        (piece,) = logbook.pieces()
    assert (piece.technique, piece.finish) == ("water", "burnished")


@pytest.mark.proof
def test_a_slider_shows_the_place_before_and_after(browser: Browser, tmp_path: Path) -> None:
    """Drawn by finger on the picture and by keyboard; what was toned is darker as it was read."""
    gaps = make_toned(tmp_path / "logbook.sqlite")
    with serve(tmp_path) as server:
        hand = open_hand(browser, tmp_path, PHONE, touch=True)
        hand.page.goto(server.url)
        go(hand, "Logbook")
        hand.press("Open 1")
        pictures, slider = hand.page.locator(".pictures"), hand.page.get_by_role("slider")
        slider.press("Home")
        after = _lightness(pictures.screenshot())
        slider.press("End")
        before = _lightness(pictures.screenshot())
        darker = gaps[0].repair.lab[0] - gaps[1].repair.lab[0]
        assert before - after == pytest.approx(darker, abs=1.5)
        box = pictures.bounding_box()
        assert box is not None
        tap(hand, box["x"] + 0.25 * box["width"], box["y"] + 0.5 * box["height"])
        expect(slider).to_have_attribute("aria-valuetext", re.compile("^25 %"))
        assert hand.hosts() == {server.host}


def _lightness(png: bytes) -> float:
    """L* of the middle of a picture of the screen, by colour-science."""
    with Image.open(BytesIO(png)) as picture:
        codes = np.asarray(picture.convert("RGB"), dtype=np.float64) / 255.0
    height, width = codes.shape[:2]
    middle = codes[height // 3 : 2 * height // 3, width // 3 : width // 2 - 5].mean(axis=(0, 1))
    return float(colour.XYZ_to_Lab(colour.sRGB_to_XYZ(middle))[0])


# Counts each press, drag, field that is filled and file that is handed over as one.
ACTIONS = """
window.actions = [];
const name = (one) => (one.getAttribute("aria-label") ?? one.textContent).trim().slice(0, 40);
const onto = (event, what) => window.actions.push(`${what} ${name(event.composedPath()[0])}`);
document.addEventListener("pointerdown", (event) => onto(event, "press"), true);
document.addEventListener("change", (event) => event.target.type === "file" && onto(event, "hand over"), true);
document.addEventListener("input", (event) => {
  if (event.target.type !== "text" || event.target.counted) return;
  event.target.counted = true;
  onto(event, "fill");
}, true);
"""  # noqa: E501


@pytest.mark.proof
def test_the_first_verdict_takes_at_most_eight_actions(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    hand = open_hand(browser, tmp_path, LAPTOP)
    page = hand.page
    page.add_init_script(ACTIONS)
    begin(hand, server.url)
    canvas = hand_over(hand, "scene-1.jpg")
    for role in ("card", "original", "repair"):
        x0, y0, x1, y1 = true_corners(canvas, "scene-1.jpg", role)
        if role == "card":  # it was found, and is taken by a tap
            page.mouse.click((x0 + x1) / 2, (y0 + y1) / 2)
        else:
            page.mouse.move(x0, y0)
            page.mouse.down()
            page.mouse.move(x1, y1, steps=3)
            page.mouse.up()
        hand.settle()
    hand.press("Compare the two")
    expect(page.locator(".tm-verdict")).to_contain_text("Not there yet")
    actions = page.evaluate("window.actions")
    assert len(actions) <= 8, actions
    assert sum(action.startswith("hand over") for action in actions) == 1  # they are counted


@pytest.mark.proof
@pytest.mark.parametrize("size", [LAPTOP, PHONE])
def test_the_picture_comes_first_and_what_is_found_waits_for_a_tap(
    browser: Browser, server: Server, tmp_path: Path, size: tuple[int, int]
) -> None:
    hand = open_hand(browser, tmp_path, size, touch=True)
    begin(hand, server.url)
    wrong = tmp_path / "wrong.jpg"
    wrong.write_text("words")
    uploader(hand).set_input_files(wrong)
    expect(hand.page.get_by_text("is not a picture that can be read")).to_be_in_viewport()
    uploader(hand).set_input_files(swatch_path("demo", "scene-1.jpg"))
    hand.page.locator("canvas[aria-label*='Card: found']").wait_for()
    canvas = hand.page.locator("canvas[aria-label]")
    hand.settle()
    frame = canvas.bounding_box()
    assert frame is not None
    assert frame["y"] > 0
    assert frame["y"] + frame["height"] <= size[1]  # all of it in the first screen
    expect(hand.page.get_by_text("how its colours are meant")).to_be_in_viewport()
    taken = canvas.evaluate("c => c.bench.taken")  # by what is found and its names: none hides one
    assert len(taken) >= 6
    for (x, y, w, h), (u, v, across, down) in combinations(taken, 2):
        assert x + w <= u or u + across <= x or y + h <= v or v + down <= y
    # Two fingers draw it larger, about the place between them, and mark nothing.
    x0, y0, x1, y1 = true_corners(canvas, "scene-1.jpg", "card")
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    session = hand.page.context.new_cdp_session(hand.page)
    for kind, apart in (("touchStart", 20), ("touchMove", 40), ("touchMove", 60)):
        fingers = [{"x": x + side * apart, "y": y, "id": i} for i, side in enumerate((-1, 1))]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": fingers})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    view = canvas.evaluate("c => c.bench.view")
    assert view["scale"] == pytest.approx(3.0, rel=0.1)
    assert canvas.evaluate("c => Object.keys(c.bench.boxes)") == []
    # A tap takes what is asked about there, as it was proposed.
    asked = canvas.evaluate("c => c.bench.proposals.card")
    tap(hand, x, y)
    expect(hand.page.locator("canvas[aria-label*='Card: marked']")).to_have_count(1)
    assert _box_on(canvas, "card") == asked
    hand.settle()
    # By the buttons back to the whole; and a box drawn while it is large lies where it was drawn.
    smaller = hand.page.get_by_role("button", name="Smaller")
    for _ in range(3):
        smaller.click()
    assert canvas.evaluate("c => c.bench.view.scale") == 1
    hand.page.get_by_role("button", name="Larger").click()
    view = canvas.evaluate("c => c.bench.view")
    canvas.evaluate("c => c.scrollIntoView({ block: 'center' })")
    frame = canvas.bounding_box()
    assert frame is not None
    points = [(frame["x"] + part * frame["width"], frame["y"] + part * frame["height"])
              for part in (0.1, 0.4)]  # fmt: skip
    for kind, (px, py) in zip(("touchStart", "touchMove"), points, strict=True):
        session.send(
            "Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": px, "y": py}]}
        )
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    hand.settle()
    drawn = [view["x"] + 0.1 / 2, view["y"] + 0.1 / 2, 0.15, 0.15]
    assert _box_on(canvas, "original") == pytest.approx(drawn, abs=0.01)
    expect(hand.page.locator(".tm-held")).to_contain_text("Original")
