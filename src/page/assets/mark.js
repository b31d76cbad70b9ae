// Second step: the patch, moved by mouse, touch and keys, under a magnifier.

const ZOOM = 3;
const EDGES = ["left", "right", "top", "bottom"];
const byId = (id) => document.getElementById(id);
const bounded = (value, least, most) => Math.min(most, Math.max(least, value));

let picture = null;
let patch = null;
let least = [12, 8];
let hide = 0;

/** The patch as it stands: x, y, w, h in pixels of the clip. */
export const marked = () => patch && { ...patch };

function set(next) {
  const [width, height] = picture.size;
  const w = bounded(Math.round(next.w), least[0], width);
  const h = bounded(Math.round(next.h), least[1], height);
  patch = {
    x: bounded(Math.round(next.x), 0, width - w),
    y: bounded(Math.round(next.y), 0, height - h),
    w,
    h,
  };
  place();
}

/** Draws the patch where it is. */
function place() {
  const [width, height] = picture.size;
  const box = byId("patch");
  box.style.left = `${(100 * patch.x) / width}%`;
  box.style.top = `${(100 * patch.y) / height}%`;
  box.style.width = `${(100 * patch.w) / width}%`;
  box.style.height = `${(100 * patch.h) / height}%`;
  const at = {
    left: [patch.x, 0, patch.x + patch.w - least[0]],
    right: [patch.x + patch.w, patch.x + least[0], width],
    top: [patch.y, 0, patch.y + patch.h - least[1]],
    bottom: [patch.y + patch.h, patch.y + least[1], height],
  };
  for (const edge of EDGES) {
    const handle = box.querySelector(`.edge.${edge}`);
    if (!handle) continue;
    const [now, min, max] = at[edge];
    handle.setAttribute("aria-valuenow", String(now));
    handle.setAttribute("aria-valuemin", String(min));
    handle.setAttribute("aria-valuemax", String(max));
    handle.setAttribute("aria-valuetext", `${now} pixels`);
  }
  for (const side of ["x", "y", "w", "h"]) {
    const field = byId(`patch-${side}`);
    if (field && field !== document.activeElement) field.value = String(patch[side]);
  }
}

/** Moves edges by so many pixels of the clip. */
function shift(edges, dx, dy, from = patch) {
  const [width, height] = picture.size;
  let { x, y, w, h } = from;
  if (edges === "all") {
    set({ x: x + dx, y: y + dy, w, h });
    return;
  }
  let [right, bottom] = [x + w, y + h];
  if (edges.includes("left")) x = bounded(x + dx, 0, right - least[0]);
  if (edges.includes("right")) right = bounded(right + dx, x + least[0], width);
  if (edges.includes("top")) y = bounded(y + dy, 0, bottom - least[1]);
  if (edges.includes("bottom")) bottom = bounded(bottom + dy, y + least[1], height);
  set({ x, y, w: right - x, h: bottom - y });
}

/** Shows the surroundings of a point of the clip, larger. */
function magnify(x, y) {
  const glass = byId("glass");
  const image = byId("frame");
  if (!image.complete || image.naturalWidth === 0) return;
  const pen = glass.getContext("2d");
  const side = glass.width;
  const [width, height] = picture.size;
  const shown = image.clientWidth / width;
  const scale = ZOOM * shown;
  const natural = image.naturalWidth / width;
  const part = side / scale;
  pen.imageSmoothingEnabled = false;
  pen.fillStyle = "#000";
  pen.fillRect(0, 0, side, side);
  pen.drawImage(
    image,
    (x - part / 2) * natural, (y - part / 2) * natural, part * natural, part * natural,
    0, 0, side, side,
  );
  pen.lineWidth = 2;
  pen.strokeStyle = "#ffd9a0";
  pen.strokeRect(
    (patch.x - x) * scale + side / 2, (patch.y - y) * scale + side / 2,
    patch.w * scale, patch.h * scale,
  );
  glass.classList.toggle("right", x < width / 2);
  glass.hidden = false;
  clearTimeout(hide);
  hide = setTimeout(() => { glass.hidden = true; }, 1500);
}

/** The point that moves when these edges do. */
function focusOf(edges) {
  const middle = (start, length) => start + length / 2;
  const x = edges.includes("left") ? patch.x : edges.includes("right") ? patch.x + patch.w : middle(patch.x, patch.w);
  const y = edges.includes("top") ? patch.y : edges.includes("bottom") ? patch.y + patch.h : middle(patch.y, patch.h);
  return [x, y];
}

function drag(element, edges) {
  let start = null;
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    event.stopPropagation();
    element.setPointerCapture(event.pointerId);
    element.focus?.({ preventScroll: true });
    start = { x: event.clientX, y: event.clientY, patch: { ...patch } };
    magnify(...focusOf(edges));
  });
  element.addEventListener("pointermove", (event) => {
    if (!start) return;
    const per = picture.size[0] / byId("frame").clientWidth;
    shift(edges, (event.clientX - start.x) * per, (event.clientY - start.y) * per, start.patch);
    magnify(...focusOf(edges));
  });
  const end = () => { start = null; };
  element.addEventListener("pointerup", end);
  element.addEventListener("pointercancel", end);
}

function keys(element, edges) {
  element.addEventListener("keydown", (event) => {
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const by = arrows[event.key];
    if (!by || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    const step = event.shiftKey ? 10 : 1;
    shift(edges, by[0] * step, by[1] * step);
    magnify(...focusOf(edges));
  });
}

/** With a mouse, a new patch is drawn by dragging across the picture. */
function drawn(screen) {
  let start = null;
  const point = (event) => {
    const box = byId("frame").getBoundingClientRect();
    const per = picture.size[0] / box.width;
    return [
      bounded((event.clientX - box.left) * per, 0, picture.size[0]),
      bounded((event.clientY - box.top) * per, 0, picture.size[1]),
    ];
  };
  screen.addEventListener("pointerdown", (event) => {
    if (event.pointerType !== "mouse" || event.button !== 0) return;
    event.preventDefault();
    start = point(event);
    screen.setPointerCapture(event.pointerId);
  });
  screen.addEventListener("pointermove", (event) => {
    if (!start) return;
    const [x, y] = point(event);
    const far = Math.abs(x - start[0]) >= least[0] && Math.abs(y - start[1]) >= least[1];
    if (far) {
      set({ x: Math.min(x, start[0]), y: Math.min(y, start[1]), w: Math.abs(x - start[0]), h: Math.abs(y - start[1]) });
    }
    magnify(x, y);
  });
  const end = () => { start = null; };
  screen.addEventListener("pointerup", end);
  screen.addEventListener("pointercancel", end);
}

/** Takes up the patch that is on the page; `before` is one the person was moving. */
export function begin(before) {
  const element = byId("film-of");
  picture = null;
  patch = null;
  if (!element) return;
  const numbers = element.dataset.patch.split(",").map(Number);
  picture = { size: [Number(element.dataset.width), Number(element.dataset.height)] };
  least = [Number(element.dataset.leastW), Number(element.dataset.leastH)];
  const [x, y, w, h] = numbers;
  set(before ?? { x, y, w, h });
  if ("measured" in element.dataset) return;
  const grip = byId("grip");
  drag(grip, "all");
  keys(grip, "all");
  for (const edge of document.querySelectorAll("[data-edge]")) {
    drag(edge, edge.dataset.edge.split(" "));
    keys(edge, edge.dataset.edge.split(" "));
  }
  drawn(byId("screen"));
  for (const side of ["x", "y", "w", "h"]) {
    byId(`patch-${side}`)?.addEventListener("change", (event) => {
      const value = Number(event.target.value);
      if (Number.isFinite(value)) set({ ...patch, [side]: value });
      event.target.value = String(patch[side]);
    });
  }
}
