// The picture: stepping through frames, the trace below, the frames round an event.

import { ask, attempt } from "./ask.js";

const KEPT = 160;
const STRIP_SIDE = 4;

/** Pictures that were shown or will be, by address; the browser itself keeps none. */
class Pictures {
  constructor() {
    this.kept = new Map();
  }

  async get(address, signal) {
    const known = this.kept.get(address);
    if (known) {
      this.kept.delete(address);
      this.kept.set(address, known);
      return known;
    }
    const answer = await ask(address, { signal });
    const url = URL.createObjectURL(await answer.blob());
    this.kept.set(address, url);
    if (this.kept.size > KEPT) {
      const [oldest, old] = this.kept.entries().next().value;
      URL.revokeObjectURL(old);
      this.kept.delete(oldest);
    }
    return url;
  }

  forget() {
    for (const url of this.kept.values()) URL.revokeObjectURL(url);
    this.kept.clear();
  }
}

const pictures = new Pictures();
let film = null;

const byId = (id) => document.getElementById(id);
/** From near, or as a whole; near is round the patch. */
function closer(on) {
  const frame = byId("window");
  frame.classList.toggle("close", on);
  byId("closer").setAttribute("aria-pressed", String(on));
  // Whatever scrolls must be reachable by keys.
  if (on) frame.tabIndex = 0;
  else frame.removeAttribute("tabindex");
  if (!on) return;
  const [patch, screen] = [byId("patch"), byId("screen")];
  frame.scrollLeft = screen.offsetLeft + patch.offsetLeft + patch.offsetWidth / 2 - frame.clientWidth / 2;
  frame.scrollTop = patch.offsetTop + patch.offsetHeight / 2 - frame.clientHeight / 2;
}

export const bounded = (value, least, most) => Math.min(most, Math.max(least, value));

/** What is on the screen: clip, frames' times, events, and the stretch of time below. */
export const scene = () => film;

/** The frame that is shown, once the one that is wanted has come. */
export async function cursor() {
  while (film?.loading) {
    await new Promise((done) => document.addEventListener("frame-shown", done, { once: true }));
  }
  return film?.frame ?? 0;
}

function open() {
  const element = byId("film-of");
  if (!element) return null;
  return {
    element,
    clip: element.dataset.clip,
    count: Number(element.dataset.frames),
    name: byId("frame").alt.replace(/^Frame \d+ of \d+ of /, ""),
    frame: 0,
    wanted: 0,
    loading: false,
    times: null,
    events: [],
    side: 12,
    view: "clip",
    event: null,
    from: 0,
    to: 1,
  };
}

const lastTime = () => film.times?.at(-1) ?? 1;
export const timeOf = (frame) => film.times?.[frame] ?? (frame / Math.max(1, film.count - 1)) * lastTime();

/** The frame nearest to a moment. */
function frameAt(time) {
  if (!film.times) return Math.round((time / lastTime()) * (film.count - 1));
  let low = 0;
  let high = film.times.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (film.times[middle] < time) low = middle + 1;
    else high = middle;
  }
  const before = Math.max(0, low - 1);
  return time - film.times[before] < film.times[low] - time ? before : low;
}

/** Shows a frame; while one is on its way, only the newest wish counts. */
export function show(frame) {
  if (!film) return;
  film.wanted = bounded(frame, 0, film.count - 1);
  tell();
  if (!film.loading) load();
}

async function load() {
  const mine = film;
  mine.loading = true;
  while (film === mine && mine.frame !== mine.wanted) {
    const frame = mine.wanted;
    const shown = await attempt(async () => {
      const url = await pictures.get(`clips/${mine.clip}/frames/${frame}`);
      if (film !== mine) return;
      const picture = byId("frame");
      picture.src = url;
      await picture.decode().catch(() => {});
    }, true);
    mine.frame = frame;
    if (!shown) break;
  }
  mine.loading = false;
  if (film !== mine) return;
  byId("frame").dataset.shown = String(mine.frame);
  document.dispatchEvent(new CustomEvent("frame-shown"));
  ahead();
}

/** Has the neighbours ready. */
async function ahead() {
  const mine = film;
  for (const by of [1, -1, 2]) {
    const frame = mine.frame + by;
    if (film !== mine || mine.loading) return;
    if (frame < 0 || frame >= mine.count) continue;
    try {
      await pictures.get(`clips/${mine.clip}/frames/${frame}`);
    } catch {
      return;
    }
  }
}

/** Writes where the cursor is. */
function tell() {
  const frame = film.wanted;
  const seconds = film.times ? `, ${timeOf(frame).toFixed(3)} s` : "";
  const where = `frame ${frame + 1} of ${film.count}${seconds}`;
  byId("where").textContent = where;
  byId("frame").alt = `Frame ${frame + 1} of ${film.count} of ${film.name}`;
  const line = byId("timeline");
  line.setAttribute("aria-valuenow", String(frame + 1));
  line.setAttribute("aria-valuetext", where);
  const width = line.clientWidth - 2 * film.side;
  const share = (timeOf(frame) - film.from) / (film.to - film.from);
  const mark = byId("cursor");
  mark.hidden = share < -0.001 || share > 1.001;
  mark.style.left = `${film.side + bounded(share, 0, 1) * width}px`;
  for (const one of document.querySelectorAll("#strip button")) {
    one.setAttribute("aria-current", String(Number(one.dataset.frame) === frame));
  }
}

/** Draws the part of the trace that is wanted. */
async function draw() {
  const mine = film;
  const line = byId("timeline");
  const [w, h] = [Math.round(line.clientWidth), Math.round(line.clientHeight)];
  if (w < 80 || h < 80) return;
  const address = `clips/${mine.clip}/trace?w=${w}&h=${h}&from_s=${mine.from}&to_s=${mine.to}`;
  const answer = await ask(address);
  const text = await answer.text();
  if (film !== mine) return;
  const drawing = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  drawing.setAttribute("preserveAspectRatio", "none");
  drawing.setAttribute("aria-hidden", "true");
  byId("trace").replaceChildren(document.importNode(drawing, true));
}

function look(view) {
  film.view = view;
  const event = film.event;
  const jump = film.events.filter((one) => event && one.jump === event.jump);
  [film.from, film.to] = [0, lastTime()];
  if (view === "jump" && jump.length === 2) {
    const flight = jump[1].best_s - jump[0].best_s;
    [film.from, film.to] = [jump[0].best_s - 0.6 * flight, jump[1].best_s + 0.6 * flight];
  } else if (view === "event" && event) {
    const spacing = lastTime() / Math.max(1, film.count - 1);
    const around = Math.max(12 * spacing, 0.05);
    [film.from, film.to] = [event.best_s - around, event.best_s + around];
  }
  film.from = Math.max(0, film.from);
  film.to = Math.min(lastTime(), film.to);
  for (const button of document.querySelectorAll("[data-view]")) {
    button.setAttribute("aria-pressed", String(button.dataset.view === view));
  }
  tell();
  document.dispatchEvent(new CustomEvent("stretch-shown"));
  if ("measured" in film.element.dataset && film.events.length > 0) attempt(draw, true);
}

/** Goes to an event: its frame, its part of the trace, the frames round it. */
export function go(jump, what, view) {
  const event = film?.events.find((one) => one.jump === jump && one.what === what);
  if (!event) return;
  film.event = event;
  for (const button of document.querySelectorAll("[data-event]")) {
    const pressed = Number(button.dataset.jump) === jump && button.dataset.event === what;
    button.setAttribute("aria-pressed", String(pressed));
  }
  look(view ?? film.view);
  strip(event);
  show(what === "landing" ? event.frames[1] : event.frames[0]);
}

/** Frames round an event, side by side. */
function strip(event) {
  const place = byId("strip");
  if (!place) return;
  const [before, after] = event.frames;
  const middle = (before + after) / 2;
  const reach = Math.max(STRIP_SIDE, Math.ceil((after - before) / 2) + 1);
  const first = Math.max(0, Math.floor(middle - reach + 0.5));
  const last = Math.min(film.count - 1, Math.ceil(middle + reach - 0.5));
  place.replaceChildren();
  place.setAttribute("aria-label", `Frames round the ${event.what} of jump ${event.jump}`);
  const mine = film;
  for (let frame = first; frame <= last; frame += 1) {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.frame = String(frame);
    const surely = event.what === "landing"
      ? [frame <= before && "in the air", frame >= after && "on the floor"]
      : [frame <= before && "on the floor", frame >= after && "in the air"];
    const state = surely.find(Boolean) || "between";
    button.className = state.replace(/ /g, "-");
    const picture = document.createElement("img");
    picture.alt = "";
    const label = document.createElement("span");
    const away = 1000 * (timeOf(frame) - event.best_s);
    label.textContent = `${away < 0 ? "\u2212" : "+"}${Math.abs(away).toFixed(0)} ms`;
    const kind = document.createElement("span");
    kind.className = "state";
    kind.textContent = state;
    const number = document.createElement("span");
    number.className = "out-of-sight";
    number.textContent = `Frame ${frame + 1}: `;
    button.append(picture, number, label, kind);
    button.addEventListener("click", () => show(frame));
    item.append(button);
    place.append(item);
    pictures.get(`clips/${mine.clip}/feet/${frame}?${event.frames.join("-")}`)
      .then((url) => { picture.src = url; })
      .catch(() => { label.textContent += " (no picture)"; });
  }
  tell();
}

function follow(event) {
  const line = byId("timeline");
  const box = line.getBoundingClientRect();
  const share = (event.clientX - box.left - film.side) / (box.width - 2 * film.side);
  show(frameAt(film.from + bounded(share, 0, 1) * (film.to - film.from)));
}

function listen() {
  const line = byId("timeline");
  line.addEventListener("pointerdown", (event) => {
    line.setPointerCapture(event.pointerId);
    line.focus({ preventScroll: true });
    follow(event);
  });
  line.addEventListener("pointermove", (event) => {
    if (line.hasPointerCapture(event.pointerId)) follow(event);
  });
  line.addEventListener("keydown", (event) => {
    const steps = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 };
    let frame = null;
    if (event.key in steps) frame = film.wanted + steps[event.key] * (event.shiftKey ? 10 : 1);
    else if (event.key === "Home") frame = 0;
    else if (event.key === "End") frame = film.count - 1;
    if (frame === null || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    show(frame);
  });
  byId("closer").addEventListener("click", () => {
    film.near = !film.near;
    closer(film.near);
  });
  for (const button of document.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => show(film.wanted + Number(button.dataset.step)));
  }
  for (const button of document.querySelectorAll("[data-view]")) {
    button.addEventListener("click", () => look(button.dataset.view));
  }
}

/** Where the patch is too small for a finger, the view begins from near. */
const isSmall = () => matchMedia("(pointer: coarse)").matches && byId("grip") !== null
  && byId("patch").offsetHeight < 30;

/** Takes up the picture that is on the page, or only what is new of it; goes back to
    where the person was. */
export async function begin(anew) {
  const before = film;
  film = open();
  if (!film) return;
  if (before?.clip !== film.clip) pictures.forget();
  if (anew) listen();
  else Object.assign(film, { frame: before.frame, wanted: before.wanted });
  const mine = film;
  const kept = before?.clip === mine.clip ? before : null;
  mine.near = kept?.near ?? isSmall();
  if (mine.near && anew) requestAnimationFrame(() => closer(true));
  await attempt(async () => {
    const answer = await ask(`clips/${mine.clip}/facts`);
    const facts = await answer.json();
    if (film !== mine) return;
    Object.assign(mine, { times: facts.times_s, events: facts.events, side: facts.side_px });
    mine.to = lastTime();
    const event = kept?.event ?? mine.events[0];
    const found = event && mine.events.some((one) => one.jump === event.jump && one.what === event.what);
    if (found && "measured" in mine.element.dataset) {
      go(event.jump, event.what, kept && kept.events.length > 0 ? kept.view : "clip");
      if (kept && kept.events.length > 0) show(kept.wanted);
    } else {
      look("clip");
      if (kept) show(kept.wanted);
    }
  }, true);
}

let resized = 0;
window.addEventListener("resize", () => {
  clearTimeout(resized);
  resized = setTimeout(() => { if (film) look(film.view); }, 200);
});
