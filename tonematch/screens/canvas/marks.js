// Marks areas on a photograph by dragging, and points by tapping. State lives on the canvas element, because Streamlit
// runs the exported function again at every rerun of the page.

const SMALLEST_DRAG = 8; // CSS pixels; anything shorter is a slip of the hand
const GRIP = { mouse: 10, touch: 24 }; // CSS pixels around a corner by which a box is taken hold of
const KEY_STEP = 4; // CSS pixels that an arrow key moves a box; with Alt one
const PAUSE = 500; // ms after the last key, or an old echo, until the page is told
const FIRST_BOX = [0.45, 0.45, 0.1, 0.1]; // where a box begins that keys make
const ROOM = [0.36, 0.75]; // of the window's height, that the picture takes at least and at most
const LARGEST = 8; // times the size at which the whole picture is in sight
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
    proposals: {}, // found by itself: drawn as questions, taken by a tap or by Enter
    outlines: [],
    view: { scale: 1, x: 0, y: 0 }, // what is in sight: how large, and its upper left corner
    pointers: new Map(), // fingers on the canvas
    pinch: null,
    current: null,
    chosen: false, // whether the person chose the current area, or the canvas moved on to it
    keyed: null, // the area that keys move
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
  canvas.addEventListener("blur", () => { bench.keyed = null; draw(bench); });
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
  if (data.picture_id !== bench.picture) {
    bench.picture = data.picture_id;
    bench.revision = -1;
    bench.view = { scale: 1, x: 0, y: 0 };
    bench.image.src = data.picture;
  }
  // An older revision is an echo of a state that the hand has left behind, or what was told since
  // was lost on the way: unless a newer one comes it is told again.
  window.clearTimeout(bench.waiting);
  if (data.revision >= bench.revision) {
    bench.boxes = { ...data.boxes };
    bench.revision = data.revision;
    bench.current = nextUnmarked(bench);
  } else {
    tellSoon(bench);
  }
  showChoices(bench);
  draw(bench);
}

function nextUnmarked(bench) {
  const keep = bench.areas.find((area) => area.role === bench.current);
  if (keep && bench.chosen) return keep.role;
  const free = bench.areas.find((area) => !bench.boxes[area.role] && !area.optional);
  return free ? free.role : null;
}

function choose(bench, role) {
  bench.current = role;
  bench.chosen = true;
  showChoices(bench);
}

function showChoices(bench) {
  bench.choices.replaceChildren(
    ...bench.areas.map((area) => {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.role = area.role;
      button.setAttribute("aria-pressed", String(area.role === bench.current));
      const state = bench.boxes[area.role] ? ", marked" : "";
      button.textContent = `${area.sign} ${area.label}${state}`;
      button.onclick = () => choose(bench, area.role);
      return button;
    }),
  );
  const current = bench.areas.find((area) => area.role === bench.current);
  bench.hint.textContent = current ? hintFor(bench, current) : hintAfter(bench);
  showKind(bench);
  bench.canvas.setAttribute("aria-label", `The photograph. ${bench.areas.map((area) => stateOf(bench, area)).join(" ")} `
    + "Tab goes through the areas; arrow keys mark and move them.");
}

function showKind({ canvas, current, view }) {
  canvas.className = `${current ? "marking" : "idle"}${view.scale > 1 ? " zoomed" : ""}`;
}

function stateOf(bench, { role, label }) {
  if (bench.boxes[role]) return `${label}: marked.`;
  return bench.proposals[role] ? `${label}: found, not taken yet.` : `${label}: not marked.`;
}

function hintFor(bench, area) {
  if (bench.proposals[area.role]) return `Is this ${area.where} (${area.sign})? Tap it, or drag your own box.`;
  return area.point
    ? `Tap, or slide to, ${area.where}.`
    : `Drag a box over ${area.where}.`;
}

function hintAfter(bench) {
  const more = bench.areas.filter((area) => area.optional && !bench.boxes[area.role]);
  const names = more.map((area) => area.label).join(" or ");
  return more.length
    ? `All marked. Drag a box to change it; choose ${names} to mark it, too.`
    : "All marked. Drag a box to change it; to mark one again, choose it.";
}

// Where a hand is: as fractions of the frame, and of the picture.
function onFrame(bench, { clientX, clientY }) {
  const frame = bench.canvas.getBoundingClientRect();
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
  const box = bench.boxes[role] ?? bench.proposals[role];
  const { scale, x, y } = bench.view;
  return box ? [box[0] + box[2] / 2, box[1] + box[3] / 2] : [x + 0.5 / scale, y + 0.5 / scale];
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
  const grip = bench.chosen ? null : gripAt(bench, start, event.pointerType);
  const pan = !bench.current && !grip && !proposalAt(bench, start) && bench.view.scale > 1;
  if (!event.isPrimary || event.button !== 0 || !(bench.current || grip || pan || proposalAt(bench, start))) return;
  bench.canvas.setPointerCapture(event.pointerId);
  bench.drag = { start, end: start, pointer: event.pointerId, grip, pan, touch: event.pointerType === "touch" };
  event.preventDefault();
  draw(bench);
}

// What a hand takes hold of: a corner of a marked box, by which it is resized, or its inside. While
// an area is still to be marked, only from within: a new box may begin close beside another.
function gripAt(bench, [x, y], kind) {
  const [width, height] = shownSize(bench);
  const reach = GRIP[kind] ?? GRIP.mouse;
  const boxes = bench.areas.filter((area) => !area.point && bench.boxes[area.role]).map((area) => area.role);
  const inside = (box) => holds(box, [x, y]);
  if (currentArea(bench)?.point) return null;
  for (const role of boxes.filter((one) => !bench.current || inside(bench.boxes[one]))) {
    const [left, top, w, h] = bench.boxes[role];
    for (const right of [0, 1]) {
      for (const low of [0, 1]) {
        const away = [(x - left - right * w) * width, (y - top - low * h) * height];
        if (Math.hypot(...away) <= reach) return { role, fixed: [left + (1 - right) * w, top + (1 - low) * h] };
      }
    }
  }
  const role = boxes.find((one) => inside(bench.boxes[one]));
  return role ? { role, fixed: null } : null;
}

function holds([left, top, w, h], [x, y]) {
  return x >= left && x <= left + w && y >= top && y <= top + h;
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
  if (event.touches.length > 1 || gripAt(bench, place(bench, touch), "touch")) event.preventDefault();
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
  const { grip, start, pan } = bench.drag;
  bench.drag.end = place(bench, event);
  const point = !grip && currentArea(bench)?.point;
  const box = point ? pointBox(bench, bench.drag.end) : dragBox(bench);
  bench.drag = null;
  const [width, height] = shownSize(bench);
  const large = box[2] * width >= SMALLEST_DRAG && box[3] * height >= SMALLEST_DRAG;
  const asked = proposalAt(bench, start);
  if (point || (large && (grip || bench.current))) {
    setBox(bench, grip ? grip.role : bench.current, box);
    tell(bench);
  } else if (asked) {
    takeProposal(bench, asked);
  } else if (!pan) {
    bench.hint.textContent = "That was too small. Drag from one corner of the area to the other.";
  }
  draw(bench);
}

function takeProposal(bench, role) {
  setBox(bench, role, bench.proposals[role]);
  tell(bench);
}

function clearDrag(bench) {
  bench.drag = null;
  draw(bench);
}

function setBox(bench, role, box) {
  bench.boxes = { ...bench.boxes, [role]: box };
  bench.revision += 1;
  bench.chosen = false;
  bench.current = nextUnmarked(bench);
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

// Arrows move the box of an area, with Shift they change its size; Tab goes to the next area, and on
// from the last: who came in by keys gets out by them.
function takeKey(bench, event) {
  if (event.key === "Enter" && bench.keyed && !bench.boxes[bench.keyed] && bench.proposals[bench.keyed]) {
    takeProposal(bench, bench.keyed);
  } else if (event.key === "+" || event.key === "-") {
    zoom(bench, event.key === "+" ? 2 : 0.5, placeOfInterest(bench));
  } else if (event.key === "Tab") {
    const at = bench.areas.findIndex((area) => area.role === bench.keyed) + (event.shiftKey ? -1 : 1);
    if (!bench.areas[at]) return;
    bench.keyed = bench.areas[at].role;
  } else if (ARROWS[event.key] && bench.keyed) {
    moveByKey(bench, ARROWS[event.key], event);
  } else {
    return;
  }
  event.preventDefault();
  bench.hint.textContent = hintForKeys(bench);
  draw(bench);
}

function moveByKey(bench, [across, down], { shiftKey, altKey }) {
  const step = altKey ? 1 : KEY_STEP;
  const [width, height] = shownSize(bench);
  const [dx, dy] = [(across * step) / width, (down * step) / height];
  const area = bench.areas.find((one) => one.role === bench.keyed);
  const begun = area.point ? pointBox(bench, [0.5, 0.5]) : FIRST_BOX;
  const [x, y, w, h] = bench.boxes[area.role] ?? bench.proposals[area.role] ?? begun;
  const sized = shiftKey && !area.point;
  const [smallest, lowest] = [SMALLEST_DRAG / width, SMALLEST_DRAG / height];
  const box = sized
    ? [x, y, between(w + dx, smallest, 1 - x), between(h + dy, lowest, 1 - y)]
    : [between(x + dx, 0, 1 - w), between(y + dy, 0, 1 - h), w, h];
  setBox(bench, area.role, box);
  tellSoon(bench);
}

function hintForKeys(bench) {
  const area = bench.areas.find((one) => one.role === bench.keyed);
  const box = bench.boxes[area.role];
  const ways = area.point ? "Arrows move it." : "Arrows move it, with Shift they change its size.";
  if (!box && bench.proposals[area.role]) return `${stateOf(bench, area)} Enter takes it, an arrow key takes and moves it.`;
  if (!box) return `${area.label}: not marked yet; an arrow key makes a box in the middle. ${ways}`;
  const [x, y, w, h] = box.map((part) => Math.round(100 * part));
  return `${area.label}: ${x} % from the left, ${y} % from the top, ${w} by ${h} % of the picture. ${ways}`;
}

function between(value, low, high) {
  return Math.min(high, Math.max(low, value));
}

// The box that a drag makes: a new one, a marked one moved, or one resized from the corner that stays.
function dragBox({ drag, boxes }) {
  const { start, end, grip } = drag;
  if (grip && !grip.fixed) {
    const [x, y, w, h] = boxes[grip.role];
    return [between(x + end[0] - start[0], 0, 1 - w), between(y + end[1] - start[1], 0, 1 - h), w, h];
  }
  const from = grip ? grip.fixed : start;
  const left = Math.min(from[0], end[0]);
  const top = Math.min(from[1], end[1]);
  return [left, top, Math.abs(end[0] - from[0]), Math.abs(end[1] - from[1])];
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
  const framed = (box) => inPixels(bench, box, width, height);
  const gripped = bench.drag?.grip?.role;
  const boxOf = (area) => (area.role === gripped ? dragBox(bench) : bench.boxes[area.role]);
  const shown = bench.areas.filter((area) => bench.boxes[area.role]);
  const frames = shown.map((area) => framed(boxOf(area)));
  const asked = open(bench).map((area) => [{ ...area, label: `${area.label}?` }, framed(bench.proposals[area.role])]);
  const seen = bench.outlines.map(({ label, corners }) => [{ label, sign: "\u25a6" }, drawOutline(pen, corners.map(framed))]);
  asked.forEach(([, frame]) => drawAsked(pen, frame));
  shown.forEach((area, i) => drawMark(pen, area, frames[i], area.role === bench.keyed));
  const taken = [...frames, ...asked.map(([, frame]) => frame)];
  for (const [area, frame] of [...shown.map((area, i) => [area, frames[i]]), ...asked, ...seen]) {
    taken.push(drawTag(pen, area, frame, taken, width, height));
  }
  if (!bench.drag || bench.drag.pan) return;
  const current = gripped ? null : currentArea(bench);
  if (current && !current.point) drawFrame(pen, current, framed(dragBox(bench)));
  if (bench.drag.touch || current?.point) drawLoupe(pen, bench, width, height);
}

// What is only proposed has a thin line and no grips.
function drawAsked(pen, frame) {
  pen.setLineDash([]);
  for (const [colour, dash] of [["#000", []], ["#fff", [4, 4]]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = 1.5;
    pen.setLineDash(dash);
    pen.strokeRect(...frame);
  }
}

// Draws what is seen besides, corner by corner; gives the upright frame around it.
function drawOutline(pen, corners) {
  pen.setLineDash([]);
  for (const [colour, wide] of [["#000", 3], ["#fff", 1.5]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = wide;
    pen.beginPath();
    corners.forEach(([x, y]) => pen.lineTo(x, y));
    pen.closePath();
    pen.stroke();
  }
  const [left, top] = [0, 1].map((axis) => Math.min(...corners.map((corner) => corner[axis])));
  const [right, low] = [0, 1].map((axis) => Math.max(...corners.map((corner) => corner[axis])));
  return [left, top, right - left, low - top];
}

function drawMark(pen, area, frame, keyed) {
  if (area.point) drawCross(pen, frame[0] + frame[2] / 2, frame[1] + frame[3] / 2);
  else {
    drawFrame(pen, area, frame);
    drawGrips(pen, frame, keyed);
  }
}

// A square on each corner, to take hold of; filled where keys move the box.
function drawGrips(pen, [x, y, w, h], keyed) {
  pen.setLineDash([]);
  for (const [left, top] of [[x, y], [x + w, y], [x, y + h], [x + w, y + h]]) {
    pen.fillStyle = keyed ? "#000" : "#fff";
    pen.strokeStyle = keyed ? "#fff" : "#000";
    pen.lineWidth = 2;
    pen.fillRect(left - 5, top - 5, 10, 10);
    pen.strokeRect(left - 5, top - 5, 10, 10);
  }
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

// Where a box, or a corner, is drawn.
function inPixels({ view: { scale, x, y } }, [left, top, w, h], width, height) {
  const corner = [(left - x) * scale * width, (top - y) * scale * height];
  return w === undefined ? corner : [...corner, w * scale * width, h * scale * height];
}

function drawFrame(pen, area, [x, y, w, h]) {
  pen.lineJoin = "round";
  pen.setLineDash([]);
  pen.strokeStyle = "#000";
  pen.lineWidth = 5;
  pen.strokeRect(x, y, w, h);
  pen.setLineDash(area.dash);
  pen.strokeStyle = "#fff";
  pen.lineWidth = 2.5;
  pen.strokeRect(x, y, w, h);
}

// Writes an area's name, or a point's sign, above its box, or where it hides no other box or name.
function drawTag(pen, area, [x, y, w, h], taken, width, height) {
  const text = area.point ? area.sign : `${area.sign} ${area.label}`;
  const size = width < 500 ? 12 : 15;
  pen.setLineDash([]);
  pen.font = `600 ${size}px sans-serif`;
  const wide = pen.measureText(text).width + 10;
  const high = size + 7;
  const places = [
    [x - 2, y - high - 4],
    [x - 2, y + h + 4],
    [x + w + 5, y],
    [x - wide - 5, y],
    [x + 4, y + 4],
  ].map(([left, top]) => [Math.max(0, Math.min(left, width - wide)), top, wide, high]);
  const fits = (tag) =>
    tag[1] >= 0 && tag[1] + high <= height && !taken.some((other) => overlap(tag, other));
  const tag = places.find(fits) ?? places[places.length - 1];
  pen.fillStyle = "#000";
  pen.fillRect(...tag);
  pen.fillStyle = "#fff";
  pen.textBaseline = "middle";
  pen.fillText(text, tag[0] + 5, tag[1] + high / 2 + 1);
  return tag;
}

function overlap(a, b) {
  return a[0] < b[0] + b[2] && b[0] < a[0] + a[2] && a[1] < b[1] + b[3] && b[1] < a[1] + a[3];
}
