// Marks areas on a photograph: boxes by dragging, other shapes by tapping their corners, points by tapping. A box is
// left, top, width and height, another shape x and y of each of its corners, all as fractions of the picture. State
// lives on the canvas element, because Streamlit runs the exported function again at every rerun of the page.

const SMALLEST_DRAG = 8; // CSS pixels; anything shorter is a slip of the hand
const GRIP = 22; // CSS pixels around a corner by which it is taken hold of
const KEY_STEP = 4; // CSS pixels that an arrow key moves a box; with Alt one
const PAUSE = 500; // ms after the last key, or an old echo, until the page is told
const FIRST_BOX = [0.45, 0.45, 0.1, 0.1]; // where a box begins that keys make
const ROOM = [0.36, 0.75]; // of the window's height, that the picture takes at least and at most
const LARGEST = 8; // times the size at which the whole picture is in sight
const CROSSED = "The sides cross there: put the corners in order around the area.";
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export default function (component) {
  const { data, parentElement, setStateValue } = component;
  const canvas = parentElement.querySelector("canvas");
  if (!canvas.bench) {
    canvas.bench = newBench(canvas, parentElement);
  }
  canvas.bench.send = (value) => setStateValue("marks", value);
  takeData(canvas.bench, data);
}

function newBench(canvas, root) {
  const bench = {
    canvas,
    choices: root.querySelector(".choices"),
    hint: root.querySelector(".hint"),
    image: new Image(),
    picture: null,
    areas: [],
    boxes: {},
    begun: [], // corners tapped of a shape that is not closed yet
    proposals: {}, // found by itself: drawn as questions, taken by a tap or by Enter
    outlines: [],
    view: { scale: 1, x: 0, y: 0 }, // what is in sight: how large, and its upper left corner
    pointers: new Map(), // fingers on the canvas
    pinch: null,
    current: null,
    chosen: false, // whether the person chose the current area, or the canvas moved on to it
    keyed: null, // the area that keys move
    keyedCorner: null, // or which of its corners
    revision: -1,
    drag: null,
    waiting: 0,
    send: () => {},
  };
  bench.image.onload = () => draw(bench);
  canvas.addEventListener("pointerdown", (event) => putDown(bench, event));
  canvas.addEventListener("pointermove", (event) => move(bench, event));
  canvas.addEventListener("pointerup", (event) => lift(bench, event));
  canvas.addEventListener("pointercancel", (event) => { lift(bench, event, true); clearDrag(bench); });
  canvas.addEventListener("wheel", (event) => turnWheel(bench, event), { passive: false });
  canvas.addEventListener("touchstart", (event) => keepFromScrolling(bench, event), { passive: false });
  canvas.addEventListener("keydown", (event) => takeKey(bench, event));
  canvas.addEventListener("focus", () => { bench.keyed ??= bench.areas[0]?.role; draw(bench); });
  canvas.addEventListener("blur", () => { bench.keyed = bench.keyedCorner = null; draw(bench); });
  root.querySelectorAll(".zoom button").forEach((button, larger) => {
    button.onclick = () => zoom(bench, larger ? 2 : 0.5, placeOfInterest(bench));
  });
  new ResizeObserver(() => draw(bench)).observe(root.querySelector(".stage"));
  return bench;
}

function takeData(bench, data) {
  bench.areas = data.areas;
  bench.proposals = data.proposals;
  bench.outlines = data.outlines;
  if (!currentArea(bench)) bench.begun = [];
  if (data.picture_id !== bench.picture) {
    bench.picture = data.picture_id;
    bench.revision = -1;
    bench.begun = [];
    bench.view = { scale: 1, x: 0, y: 0 };
    bench.image.src = data.picture;
  }
  // An older revision is an echo of a state that the hand has left behind, or what was told since
  // was lost on the way: unless a newer one comes it is told again.
  window.clearTimeout(bench.waiting);
  if (data.revision >= bench.revision) {
    holdBoxes(bench, { ...data.boxes }, data.revision);
  } else {
    tellSoon(bench);
  }
  showChoices(bench);
  draw(bench);
}

function holdBoxes(bench, boxes, revision) {
  bench.boxes = boxes;
  bench.revision = revision;
  if (!freeCorners(bench, bench.keyed)[bench.keyedCorner]) bench.keyedCorner = null;
  bench.current = nextUnmarked(bench);
}

function nextUnmarked(bench) {
  const keep = bench.areas.find((area) => area.role === bench.current);
  if (keep && (bench.chosen || bench.begun.length)) return keep.role;
  const free = bench.areas.find((area) => !bench.boxes[area.role] && !area.optional);
  return free ? free.role : null;
}

function choose(bench, role) {
  bench.current = role;
  bench.chosen = true;
  bench.begun = [];
  showChoices(bench);
  draw(bench);
}

function showChoices(bench) {
  const areas = bench.areas.map((area) => {
    const state = bench.boxes[area.role] ? ", marked" : "";
    const button = newButton(`${area.sign} ${area.label}${state}`, () => choose(bench, area.role));
    button.dataset.role = area.role;
    button.setAttribute("aria-pressed", String(area.role === bench.current));
    return button;
  });
  bench.choices.replaceChildren(...buttonsForCorners(bench), ...areas);
  const current = currentArea(bench);
  bench.hint.textContent = current ? hintFor(bench, current) : hintAfter(bench);
  showKind(bench);
  bench.canvas.setAttribute("aria-label", `The photograph. ${bench.areas.map((area) => stateOf(bench, area)).join(" ")} `
    + "Tab goes through the areas; arrow keys mark and move them.");
}

function newButton(words, press) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = words;
  button.onclick = press;
  return button;
}

function buttonsForCorners(bench) {
  if (!bench.begun.length) return [];
  const close = newButton("Close the shape", () => closeShape(bench));
  close.disabled = bench.begun.length < 3;
  return [close, newButton("Take back a corner", () => begin(bench, bench.begun.slice(0, -1)))];
}

function showKind({ canvas, current, view }) {
  canvas.className = `${current ? "marking" : "idle"}${view.scale > 1 ? " zoomed" : ""}`;
}

function stateOf(bench, { role, label }) {
  const shape = bench.boxes[role];
  if (shape) return `${label}: marked${shape.length > 4 ? ` by ${shape.length / 2} corners` : ""}.`;
  return bench.proposals[role] ? `${label}: found, not taken yet.` : `${label}: not marked.`;
}

function hintFor(bench, area) {
  const corners = bench.begun.length;
  const closing = corners > 2 ? ", or the first again to close the shape" : "";
  if (corners) return `${area.label}, corner ${corners}. Tap the next${closing}.`;
  if (bench.proposals[area.role]) return `Is this ${area.where} (${area.sign})? Tap it, or drag your own box.`;
  return area.point
    ? `Tap, or slide to, ${area.where}.`
    : `Drag a box over ${area.where}, or tap its corners.`;
}

function hintAfter(bench) {
  const more = bench.areas.filter((area) => area.optional && !bench.boxes[area.role]);
  const names = more.map((area) => area.label).join(" or ");
  return more.length
    ? `All marked. Drag a box to change it; choose ${names} to mark it, too.`
    : "All marked. Drag a box to change it; to mark one again, choose it.";
}

// Where a hand is: as fractions of the frame, and of the picture. A drag is measured on the frame where it began: what
// comes or goes above the picture meanwhile must not stretch a box.
function onFrame(bench, { clientX, clientY }) {
  const frame = bench.drag?.frame ?? bench.canvas.getBoundingClientRect();
  return [(clientX - frame.left) / frame.width, (clientY - frame.top) / frame.height];
}

function place(bench, event) {
  const [x, y] = onFrame(bench, event);
  const { scale, x: left, y: top } = bench.view;
  return [between(left + x / scale, 0, 1), between(top + y / scale, 0, 1)];
}

// Size of the whole picture as it is shown, CSS pixels.
function shownSize({ canvas, view }) {
  return [canvas.clientWidth * view.scale, canvas.clientHeight * view.scale];
}

function look(bench, scale, [x, y], [across, down]) {
  scale = between(scale, 1, LARGEST);
  const most = 1 - 1 / scale;
  bench.view = { scale, x: between(x - across / scale, 0, most), y: between(y - down / scale, 0, most) };
  showKind(bench);
  draw(bench);
}

function zoom(bench, times, at, on = [0.5, 0.5]) {
  look(bench, bench.view.scale * times, at, on);
}

// What is looked at more closely: the area that is marked or moved, or the middle of the view.
function placeOfInterest(bench) {
  const role = bench.keyed ?? bench.current;
  const shape = bench.boxes[role] ?? bench.proposals[role];
  const { scale, x, y } = bench.view;
  if (!shape) return [x + 0.5 / scale, y + 0.5 / scale];
  const [left, top, w, h] = frameOf(cornersOf(shape));
  return cornersOf(shape)[bench.keyedCorner] ?? [left + w / 2, top + h / 2];
}

// A wheel moves a picture that is larger than its frame; with Ctrl, as a pad's pinch sends it, it zooms.
function turnWheel(bench, event) {
  const { scale, x, y } = bench.view;
  if (event.ctrlKey) zoom(bench, Math.exp(-event.deltaY / 200), place(bench, event), onFrame(bench, event));
  else if (scale > 1) {
    const [width, height] = shownSize(bench);
    look(bench, scale, [x + event.deltaX / width, y + event.deltaY / height], [0, 0]);
  } else return;
  event.preventDefault();
}

function putDown(bench, event) {
  bench.pointers.set(event.pointerId, event);
  if (bench.pointers.size === 2) {
    clearDrag(bench);
    bench.canvas.setPointerCapture(event.pointerId);
    const { apart, middle } = hold(bench);
    bench.pinch = { apart, scale: bench.view.scale, at: place(bench, middle) };
  } else startDrag(bench, event);
}

function move(bench, event) {
  if (bench.pointers.has(event.pointerId)) bench.pointers.set(event.pointerId, event);
  if (!bench.pinch) return moveDrag(bench, event);
  const { apart, middle } = hold(bench);
  look(bench, (bench.pinch.scale * apart) / bench.pinch.apart, bench.pinch.at, onFrame(bench, middle));
}

function lift(bench, event, lost = false) {
  bench.pointers.delete(event.pointerId);
  if (bench.pinch) bench.pinch = bench.pointers.size ? bench.pinch : null;
  else if (!lost) endDrag(bench, event);
}

// Two fingers: how far apart, and the place between them; one that stayed behind holds nothing.
function hold({ pointers, pinch }) {
  const [a, b] = [...pointers.values()];
  if (!b) return { apart: pinch.apart, middle: a };
  return {
    apart: Math.max(1, Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY)),
    middle: { clientX: (a.clientX + b.clientX) / 2, clientY: (a.clientY + b.clientY) / 2 },
  };
}

function startDrag(bench, event) {
  const start = place(bench, event);
  const corner = cornerAt(bench, bench.begun, start)?.corner ?? null;
  const grip = bench.chosen || bench.begun.length ? null : gripAt(bench, start);
  const pan = !bench.current && !grip && !proposalAt(bench, start) && bench.view.scale > 1;
  if (!event.isPrimary || event.button !== 0 || !(bench.current || grip || pan || proposalAt(bench, start))) return;
  bench.canvas.setPointerCapture(event.pointerId);
  const frame = bench.canvas.getBoundingClientRect();
  const touch = event.pointerType === "touch";
  bench.drag = { start, end: start, frame, pointer: event.pointerId, grip, corner, pan, touch };
  event.preventDefault();
  draw(bench);
}

// What a hand takes hold of: a corner of a marked area, or its inside. While an area is still to be
// marked, only from within: a new one may begin close beside another.
function gripAt(bench, at) {
  if (currentArea(bench)?.point) return null;
  const marked = bench.areas.filter((area) => !area.point && bench.boxes[area.role]).map(({ role }) => role);
  const within = marked.filter((role) => holds(bench.boxes[role], at));
  const near = (bench.current ? within : marked).flatMap((role) => {
    const found = cornerAt(bench, cornersOf(bench.boxes[role]), at);
    return found ? [{ role, ...found }] : [];
  });
  if (near.length) return near.reduce((one, other) => (other.away < one.away ? other : one));
  return within.length ? { role: within[0], corner: null } : null;
}

// The corner nearest to a hand, if it is near; from within a small shape its middle third stays free to move it by.
function cornerAt(bench, corners, at) {
  const [width, height] = shownSize(bench);
  const away = corners.map(([x, y]) => Math.hypot((x - at[0]) * width, (y - at[1]) * height));
  const [, , w, h] = frameOf(corners);
  const within = corners.length > 2 && holds(corners.flat(), at);
  const reach = within ? Math.min(GRIP, (w * width) / 3, (h * height) / 3) : GRIP;
  const nearest = Math.min(...away);
  return nearest <= reach ? { corner: away.indexOf(nearest), away: nearest } : null;
}

// By the even-odd rule.
function holds(shape, [x, y]) {
  const corners = cornersOf(shape);
  return corners.filter(([xa, ya], i) => {
    const [xb, yb] = corners[(i + 1) % corners.length];
    return ya <= y !== yb <= y && x < xa + ((y - ya) * (xb - xa)) / (yb - ya);
  }).length % 2 === 1;
}

function cornersOf(shape) {
  if (shape.length > 4) return shape.filter((_, i) => i % 2 === 0).map((x, i) => [x, shape[2 * i + 1]]);
  const [x, y, w, h] = shape;
  return [[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
}

// The upright box around some corners.
function frameOf(corners) {
  const [left, top] = [0, 1].map((axis) => Math.min(...corners.map((corner) => corner[axis])));
  const [right, low] = [0, 1].map((axis) => Math.max(...corners.map((corner) => corner[axis])));
  return [left, top, right - left, low - top];
}

function sidesCross(shape) {
  const corners = cornersOf(shape);
  const sides = corners.map((corner, i) => [corner, corners[(i + 1) % corners.length]]);
  const turn = ([xa, ya], [xb, yb], [x, y]) => (xb - xa) * (y - ya) - (yb - ya) * (x - xa);
  const parts = ([a, b], [c, d]) => turn(a, b, c) * turn(a, b, d) < 0;
  return sides.some((one, i) => sides.slice(0, i).some((other) => parts(one, other) && parts(other, one)));
}

function open(bench) {
  return bench.areas.filter(({ role }) => bench.proposals[role] && !bench.boxes[role]);
}

function proposalAt(bench, at) {
  return open(bench).find(({ role }) => holds(bench.proposals[role], at))?.role;
}

// Once all is marked a finger scrolls the page, but not where it takes hold of a box; two zoom.
function keepFromScrolling(bench, event) {
  const touch = event.touches[0];
  if (event.touches.length > 1 || gripAt(bench, place(bench, touch))) event.preventDefault();
}

function moveDrag(bench, event) {
  if (!bench.drag || event.pointerId !== bench.drag.pointer) return;
  const { scale } = bench.view;
  if (bench.drag.pan) return look(bench, scale, bench.drag.start, onFrame(bench, event));
  bench.drag.end = place(bench, event);
  draw(bench);
}

function endDrag(bench, event) {
  if (!bench.drag || event.pointerId !== bench.drag.pointer) return;
  bench.drag.end = place(bench, event);
  const { grip, start, end, corner, pan } = bench.drag;
  const point = !grip && currentArea(bench)?.point;
  const shape = point ? pointBox(bench, end) : dragShape(bench);
  bench.drag = null;
  const [width, height] = shownSize(bench);
  const [, , w, h] = frameOf(cornersOf(shape));
  const large = w * width >= SMALLEST_DRAG && h * height >= SMALLEST_DRAG;
  const tapped = Math.hypot((end[0] - start[0]) * width, (end[1] - start[1]) * height) < SMALLEST_DRAG;
  const asked = proposalAt(bench, start);
  if (bench.begun.length) {
    if (!tapped || corner === null) begin(bench, withCorner(bench.begun, corner, end));
    else if (corner === 0 && bench.begun.length > 2) closeShape(bench);
  } else if (grip && sidesCross(shape)) {
    bench.hint.textContent = CROSSED;
  } else if (point || (large && (grip || bench.current))) {
    mark(bench, grip ? grip.role : bench.current, shape);
  } else if (asked) {
    takeProposal(bench, asked);
  } else if (bench.current && tapped) {
    begin(bench, [end]);
  } else if (!pan) {
    bench.hint.textContent = "That was too small. Drag from one corner of the area to the other.";
  }
  draw(bench);
}

// Corners with one put in another place, or one more.
function withCorner(corners, which, at) {
  return which === null ? [...corners, at] : corners.map((corner, i) => (i === which ? at : corner));
}

// Takes a shape up corner by corner: a page that is drawn again meanwhile does not know of it yet.
function begin(bench, corners) {
  bench.begun = corners;
  showChoices(bench);
  draw(bench);
}

function closeShape(bench) {
  const shape = bench.begun.flat();
  if (sidesCross(shape)) {
    bench.hint.textContent = CROSSED;
    return;
  }
  mark(bench, bench.current, shape);
  draw(bench);
}

function mark(bench, role, shape) {
  setBox(bench, role, shape);
  tell(bench);
}

function takeProposal(bench, role) {
  mark(bench, role, bench.proposals[role]);
}

function clearDrag(bench) {
  bench.drag = null;
  draw(bench);
}

function setBox(bench, role, box) {
  bench.begun = [];
  bench.chosen = false;
  holdBoxes(bench, { ...bench.boxes, [role]: box }, bench.revision + 1);
  showChoices(bench);
}

function tellSoon(bench) {
  window.clearTimeout(bench.waiting);
  bench.waiting = window.setTimeout(() => tell(bench), PAUSE);
}

function tell(bench) {
  window.clearTimeout(bench.waiting);
  bench.send({ picture_id: bench.picture, revision: bench.revision, boxes: bench.boxes });
}

// Arrows move an area or one of its corners, with Shift they change a box's size; Tab goes to the next, and on from the
// last: who came in by keys gets out by them.
function takeKey(bench, event) {
  const shape = bench.boxes[bench.keyed];
  if (event.key === "Enter" && bench.keyed && !shape && bench.proposals[bench.keyed]) {
    takeProposal(bench, bench.keyed);
  } else if (["Enter", "Delete"].includes(event.key) && shape && !keyedArea(bench).point) {
    changeCorners(bench, shape, event.key === "Enter");
  } else if (event.key === "Escape" && bench.begun.length) {
    begin(bench, []);
  } else if (event.key === "+" || event.key === "-") {
    zoom(bench, event.key === "+" ? 2 : 0.5, placeOfInterest(bench));
  } else if (event.key === "Tab") {
    const stops = bench.areas.flatMap(({ role }) => [[role, null], ...freeCorners(bench, role).map((_, i) => [role, i])]);
    const here = stops.findIndex(([role, corner]) => role === bench.keyed && corner === bench.keyedCorner);
    const next = stops[here + (event.shiftKey ? -1 : 1)];
    if (!next) return;
    [bench.keyed, bench.keyedCorner] = next;
  } else if (ARROWS[event.key] && bench.keyed) {
    moveByKey(bench, ARROWS[event.key], event);
  } else {
    return;
  }
  event.preventDefault();
  bench.hint.textContent = hintForKeys(bench);
  draw(bench);
}

function keyedArea(bench) {
  return bench.areas.find((area) => area.role === bench.keyed);
}

// Corners that can be moved one by one: those of a shape, not of a box.
function freeCorners({ boxes }, role) {
  return boxes[role]?.length > 4 ? cornersOf(boxes[role]) : [];
}

// Makes a box a shape of four corners, puts one more after the keyed corner, or takes that away.
function changeCorners(bench, shape, more) {
  const corners = cornersOf(shape);
  const at = bench.keyedCorner;
  if (at === null ? !more || shape.length > 4 : !more && corners.length < 4) return;
  if (at !== null) {
    const next = corners[(at + 1) % corners.length];
    const halfway = corners[at].map((value, axis) => (value + next[axis]) / 2);
    corners.splice(more ? at + 1 : at, more ? 0 : 1, ...(more ? [halfway] : []));
    bench.keyedCorner = more ? at + 1 : Math.max(0, at - 1);
  }
  setBox(bench, bench.keyed, corners.flat());
  tellSoon(bench);
}

function moveByKey(bench, [across, down], { shiftKey, altKey }) {
  const step = altKey ? 1 : KEY_STEP;
  const [width, height] = shownSize(bench);
  const by = [(across * step) / width, (down * step) / height];
  const area = keyedArea(bench);
  const begun = area.point ? pointBox(bench, [0.5, 0.5]) : FIRST_BOX;
  const shape = bench.boxes[area.role] ?? bench.proposals[area.role] ?? begun;
  const sized = shiftKey && !area.point && shape.length === 4;
  const smallest = [SMALLEST_DRAG / width, SMALLEST_DRAG / height];
  const moved = sized
    ? shape.map((part, i) => (i < 2 ? part : between(part + by[i - 2], smallest[i - 2], 1 - shape[i - 2])))
    : movedShape(shape, bench.keyedCorner, by);
  if (sidesCross(moved)) return;
  setBox(bench, area.role, moved);
  tellSoon(bench);
}

// A shape, or one of its corners, moved as far as the picture goes.
function movedShape(shape, corner, by) {
  const corners = cornersOf(shape);
  const [x, y, w, h] = frameOf(corner === null ? corners : [corners[corner]]);
  const [dx, dy] = [between(by[0], -x, 1 - w - x), between(by[1], -y, 1 - h - y)];
  if (shape.length === 4) return [x + dx, y + dy, w, h];
  return corners.flatMap(([left, top], i) => (corner === null || corner === i ? [left + dx, top + dy] : [left, top]));
}

function hintForKeys(bench) {
  const area = keyedArea(bench);
  const shape = bench.boxes[area.role];
  if (!shape && bench.proposals[area.role]) {
    return `${stateOf(bench, area)} Enter takes it, an arrow key takes and moves it.`;
  }
  if (!shape) return `${area.label}: not marked yet; an arrow key makes a box in the middle.`;
  const corners = freeCorners(bench, area.role);
  const corner = corners[bench.keyedCorner];
  const [x, y, w, h] = frameOf(corner ? [corner] : cornersOf(shape)).map((part) => Math.round(100 * part));
  const place = `${x} % from the left, ${y} % from the top`;
  if (corner) {
    return `${area.label}, corner ${bench.keyedCorner + 1} of ${corners.length}: ${place}. Arrows move it, Enter adds `
      + "one after it, Delete takes it away.";
  }
  const ofShape = corners.length ? "Tab goes to its corners." : "With Shift they change its size; Enter frees its corners.";
  return `${area.label}: ${place}, ${w} by ${h} % of the picture. Arrows move it. ${area.point ? "" : ofShape}`;
}

function between(value, low, high) {
  return Math.min(high, Math.max(low, value));
}

// What a drag makes: a new box, a marked shape moved, or a corner of it put elsewhere.
function dragShape({ drag, boxes }) {
  const { start, end, grip } = drag;
  const shape = grip && boxes[grip.role];
  if (grip && (grip.corner === null || shape.length > 4)) {
    return movedShape(shape, grip.corner, [end[0] - start[0], end[1] - start[1]]);
  }
  return frameOf([grip ? cornersOf(shape)[(grip.corner + 2) % 4] : start, end]);
}

function currentArea(bench) {
  return bench.areas.find((area) => area.role === bench.current);
}

// A point is sent as a box of two pixels of the shown picture, whose middle it is.
function pointBox({ image }, [x, y]) {
  const [w, h] = [2 / image.naturalWidth, 2 / image.naturalHeight];
  const within = (value, size) => Math.min(1 - size, Math.max(0, value - size / 2));
  return [within(x, w), within(y, h), w, h];
}

// How high the picture may be so that the whole of it is in the first screen, CSS pixels; as it was
// when it came, so that it keeps its size while it is marked.
function roomFor(bench) {
  const known = `${bench.picture} ${window.innerWidth}`;
  if (bench.room?.known !== known) {
    const scrolled = document.querySelector("[data-testid=stMain]")?.scrollTop ?? 0;
    const top = bench.canvas.getBoundingClientRect().top + scrolled;
    const [least, most] = ROOM.map((share) => share * window.innerHeight);
    bench.room = { known, height: between(window.innerHeight - top - 8, least, most) };
  }
  return bench.room.height;
}

function draw(bench) {
  const { canvas, image } = bench;
  if (!image.naturalWidth) return;
  const aspect = image.naturalWidth / image.naturalHeight;
  canvas.style.maxWidth = `${Math.round(roomFor(bench) * aspect)}px`;
  canvas.style.aspectRatio = `${image.naturalWidth} / ${image.naturalHeight}`;
  const ratio = window.devicePixelRatio || 1;
  const width = canvas.clientWidth;
  const height = canvas.clientHeight;
  if (!width || !height) return;
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  const { scale, x, y } = bench.view;
  const [across, down] = [image.naturalWidth, image.naturalHeight];
  pen.drawImage(image, x * across, y * down, across / scale, down / scale, 0, 0, width, height);
  const drawn = (shape) => cornersOf(shape).map((corner) => inPixels(bench, corner, width, height));
  const gripped = bench.drag?.grip?.role;
  const shown = bench.areas.filter((area) => bench.boxes[area.role]);
  const shapeOf = ({ role }) => (role === gripped ? dragShape(bench) : bench.boxes[role]);
  const marked = shown.map((area) => [area, drawn(shapeOf(area))]);
  const asked = open(bench).map((area) => [{ ...area, label: `${area.label}?` }, drawn(bench.proposals[area.role])]);
  const seen = bench.outlines.map(({ label, corners }) => [{ label, sign: "\u25a6" }, drawn(corners.flat())]);
  seen.forEach(([, corners]) => drawLine(pen, corners, [["#000", 3], ["#fff", 1.5]]));
  asked.forEach(([, corners]) => drawLine(pen, corners, [["#000", 1.5], ["#fff", 1.5, [4, 4]]])); // thin, without grips
  marked.forEach(([area, corners]) => drawMark(pen, bench, area, corners));
  const frames = [...marked, ...asked, ...seen].map(([area, corners]) => [area, frameOf(corners)]);
  const taken = frames.slice(0, marked.length + asked.length).map(([, frame]) => frame);
  for (const [area, frame] of frames) taken.push(drawTag(pen, area, frame, taken, width, height));
  bench.taken = taken;
  if (bench.begun.length) drawBegun(pen, bench, width, height);
  if (!bench.drag || bench.drag.pan) return;
  const current = gripped ? null : currentArea(bench);
  const boxed = current && !current.point && !bench.begun.length;
  if (boxed) drawLine(pen, drawn(dragShape(bench)), lineOf(current));
  if (bench.drag.touch || (current && !boxed)) drawLoupe(pen, bench, width, height);
}

// The corners of a shape that is not closed yet, as the hand has them now.
function drawBegun(pen, bench, width, height) {
  const { begun, drag } = bench;
  const corners = drag && !bench.pinch ? withCorner(begun, drag.corner, drag.end) : begun;
  const places = corners.map((corner) => inPixels(bench, corner, width, height));
  drawLine(pen, places, lineOf(currentArea(bench)), false);
  places.forEach((corner, i) => drawGrip(pen, corner, i === 0));
}

// A line from corner to corner, stroke over stroke: colour, width, and lines and gaps.
function drawLine(pen, corners, strokes, closed = true) {
  pen.lineJoin = "round";
  for (const [colour, wide, dash] of strokes) {
    pen.strokeStyle = colour;
    pen.lineWidth = wide;
    pen.setLineDash(dash ?? []);
    pen.beginPath();
    corners.forEach((corner) => pen.lineTo(...corner));
    if (closed) pen.closePath();
    pen.stroke();
  }
}

function lineOf(area) {
  return [["#000", 5], ["#fff", 2.5, area.dash]];
}

function drawMark(pen, { keyed, keyedCorner }, area, corners) {
  if (area.point) {
    const [x, y, w, h] = frameOf(corners);
    drawCross(pen, x + w / 2, y + h / 2);
    return;
  }
  drawLine(pen, corners, lineOf(area));
  corners.forEach((corner, i) => drawGrip(pen, corner, area.role === keyed && (keyedCorner ?? i) === i));
}

// A square on a corner, to take hold of; filled where keys move it.
function drawGrip(pen, [x, y], filled) {
  pen.setLineDash([]);
  pen.fillStyle = filled ? "#000" : "#fff";
  pen.strokeStyle = filled ? "#fff" : "#000";
  pen.lineWidth = 2;
  pen.fillRect(x - 5, y - 5, 10, 10);
  pen.strokeRect(x - 5, y - 5, 10, 10);
}

function drawCross(pen, x, y) {
  pen.setLineDash([]);
  for (const [colour, wide] of [["#000", 5], ["#fff", 2]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = wide;
    pen.beginPath();
    pen.moveTo(x - 11, y);
    pen.lineTo(x + 11, y);
    pen.moveTo(x, y - 11);
    pen.lineTo(x, y + 11);
    pen.stroke();
  }
}

// What lies under the finger, four times as large, in the half of the picture away from it.
function drawLoupe(pen, { image, view, drag }, width, height) {
  const [x, y] = drag.end;
  const side = Math.min(140, width / 3);
  const [wide, high] = [side / 4 / width, side / 4 / height].map((part, i) =>
    (part * [image.naturalWidth, image.naturalHeight][i]) / view.scale);
  const left = (x - view.x) * view.scale < 0.5 ? width - side - 6 : 6;
  const source = [x * image.naturalWidth - wide / 2, y * image.naturalHeight - high / 2];
  pen.fillStyle = "#777";
  pen.fillRect(left, 6, side, side);
  pen.drawImage(image, ...source, wide, high, left, 6, side, side);
  pen.setLineDash([]);
  pen.strokeStyle = "#000";
  pen.lineWidth = 3;
  pen.strokeRect(left, 6, side, side);
  drawCross(pen, left + side / 2, 6 + side / 2);
}

// Where a place of the picture is drawn.
function inPixels({ view: { scale, x, y } }, [left, top], width, height) {
  return [(left - x) * scale * width, (top - y) * scale * height];
}

// Writes an area's name above its box, or where it hides no other box or name; a point's sign, and
// where a name has no room its sign, which stands beside the name on its button.
function drawTag(pen, area, frame, taken, width, height) {
  const size = width < 500 ? 12 : 15;
  const high = size + 7;
  pen.setLineDash([]);
  pen.font = `600 ${size}px sans-serif`;
  const fits = ([, tag]) =>
    tag[1] >= 0 && tag[1] + high <= height && !taken.some((other) => overlap(tag, other));
  const words = area.point ? [area.sign] : [`${area.sign} ${area.label}`, area.sign];
  const places = words.flatMap((text) =>
    placesFor(frame, pen.measureText(text).width + 10, high, width).map((tag) => [text, tag]));
  const [text, tag] = places.find(fits) ?? places[places.length - 1];
  pen.fillStyle = "#000";
  pen.fillRect(...tag);
  pen.fillStyle = "#fff";
  pen.textBaseline = "middle";
  pen.fillText(text, tag[0] + 5, tag[1] + high / 2 + 1);
  return tag;
}

// Where a tag of some size can stand by a box: above, below, at its sides, within.
function placesFor([x, y, w, h], wide, high, width) {
  return [
    [x - 2, y - high - 4],
    [x - 2, y + h + 4],
    [x + w + 5, y],
    [x - wide - 5, y],
    [x + 4, y + 4],
  ].map(([left, top]) => [Math.max(0, Math.min(left, width - wide)), top, wide, high]);
}

function overlap(a, b) {
  return a[0] < b[0] + b[2] && b[0] < a[0] + a[2] && a[1] < b[1] + b[3] && b[1] < a[1] + a[3];
}
