// Marks areas on a photograph by dragging, and points by tapping. State lives on the canvas element, because Streamlit
// runs the exported function again at every rerun of the page.

const SMALLEST_DRAG = 8; // CSS pixels; anything shorter is a slip of the hand

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
    current: null,
    chosen: false, // whether the person chose the current area, or the canvas moved on to it
    revision: -1,
    drag: null,
    send: () => {},
  };
  bench.image.onload = () => draw(bench);
  canvas.addEventListener("pointerdown", (event) => startDrag(bench, event));
  canvas.addEventListener("pointermove", (event) => moveDrag(bench, event));
  canvas.addEventListener("pointerup", (event) => endDrag(bench, event));
  canvas.addEventListener("pointercancel", () => clearDrag(bench));
  new ResizeObserver(() => draw(bench)).observe(root.querySelector(".stage"));
  return bench;
}

function takeData(bench, data) {
  bench.areas = data.areas;
  if (data.picture_id !== bench.picture) {
    bench.picture = data.picture_id;
    bench.revision = -1;
    bench.image.src = data.picture;
  }
  // An older revision is an echo of a state that the hand has left behind.
  if (data.revision >= bench.revision) {
    bench.boxes = { ...data.boxes };
    bench.revision = data.revision;
    bench.current = nextUnmarked(bench);
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
  bench.hint.textContent = current ? hintFor(current) : hintAfter(bench);
  bench.canvas.className = current ? "marking" : "idle";
}

function hintFor(area) {
  return area.point
    ? `Tap ${area.where}; slide before you lift to place it closely.`
    : `Drag a box over ${area.where}.`;
}

function hintAfter(bench) {
  const more = bench.areas.filter((area) => area.optional && !bench.boxes[area.role]);
  const names = more.map((area) => area.label).join(" or ");
  return more.length
    ? `All marked. If ${names} is in the picture, choose it and mark it, too.`
    : "All marked. To mark one again, choose it.";
}

function place(bench, event) {
  const frame = bench.canvas.getBoundingClientRect();
  const within = (value) => Math.min(1, Math.max(0, value));
  return [
    within((event.clientX - frame.left) / frame.width),
    within((event.clientY - frame.top) / frame.height),
  ];
}

function startDrag(bench, event) {
  if (!event.isPrimary || event.button !== 0 || !bench.current) return;
  bench.canvas.setPointerCapture(event.pointerId);
  const start = place(bench, event);
  bench.drag = { start, end: start, pointer: event.pointerId };
  event.preventDefault();
  draw(bench);
}

function moveDrag(bench, event) {
  if (!bench.drag || event.pointerId !== bench.drag.pointer) return;
  bench.drag.end = place(bench, event);
  draw(bench);
}

function endDrag(bench, event) {
  if (!bench.drag || event.pointerId !== bench.drag.pointer) return;
  bench.drag.end = place(bench, event);
  const frame = bench.canvas.getBoundingClientRect();
  const point = currentArea(bench)?.point;
  const box = point ? pointBox(bench, bench.drag.end) : dragBox(bench.drag);
  bench.drag = null;
  const large = box[2] * frame.width >= SMALLEST_DRAG && box[3] * frame.height >= SMALLEST_DRAG;
  if (point || large) {
    bench.boxes = { ...bench.boxes, [bench.current]: box };
    bench.revision += 1;
    bench.chosen = false;
    bench.current = nextUnmarked(bench);
    showChoices(bench);
    bench.send({ picture_id: bench.picture, revision: bench.revision, boxes: bench.boxes });
  } else {
    bench.hint.textContent = "That was too small. Drag from one corner of the area to the other.";
  }
  draw(bench);
}

function clearDrag(bench) {
  bench.drag = null;
  draw(bench);
}

function dragBox({ start, end }) {
  const left = Math.min(start[0], end[0]);
  const top = Math.min(start[1], end[1]);
  return [left, top, Math.abs(end[0] - start[0]), Math.abs(end[1] - start[1])];
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

function draw(bench) {
  const { canvas, image } = bench;
  if (!image.naturalWidth) return;
  // The whole picture stays in sight: never taller than most of the window.
  const aspect = image.naturalWidth / image.naturalHeight;
  canvas.style.maxWidth = `${Math.round(window.innerHeight * 0.75 * aspect)}px`;
  canvas.style.aspectRatio = `${image.naturalWidth} / ${image.naturalHeight}`;
  const ratio = window.devicePixelRatio || 1;
  const width = canvas.clientWidth;
  const height = canvas.clientHeight;
  if (!width || !height) return;
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  pen.drawImage(image, 0, 0, width, height);
  const shown = bench.areas.filter((area) => bench.boxes[area.role]);
  const frames = shown.map((area) => inPixels(bench.boxes[area.role], width, height));
  shown.forEach((area, i) => drawMark(pen, area, frames[i]));
  const taken = [...frames];
  shown.forEach((area, i) => taken.push(drawTag(pen, area, frames[i], taken, width, height)));
  const current = currentArea(bench);
  if (!bench.drag || !current) return;
  if (current.point) drawLoupe(pen, image, bench.drag.end, width, height);
  else drawFrame(pen, current, inPixels(dragBox(bench.drag), width, height));
}

function drawMark(pen, area, frame) {
  if (area.point) drawCross(pen, frame[0] + frame[2] / 2, frame[1] + frame[3] / 2);
  else drawFrame(pen, area, frame);
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
function drawLoupe(pen, image, [x, y], width, height) {
  const side = Math.min(140, width / 3);
  const [wide, high] = [side / 4 / width, side / 4 / height].map((part, i) =>
    part * [image.naturalWidth, image.naturalHeight][i]);
  const left = x < 0.5 ? width - side - 6 : 6;
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

function inPixels(box, width, height) {
  return [box[0] * width, box[1] * height, box[2] * width, box[3] * height];
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
