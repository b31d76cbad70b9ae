// The marks below the trace: take-off and landing, each to be taken hold of and moved to
// a place among the frames. Places are counted in frames from the first: 12 is in frame
// 12, 12.5 between it and the next; a person can tell no more than that.

import { send, attempt, say } from "./ask.js";
import { scene, show, go, timeOf, bounded } from "./film.js";

const STEP = 0.5;
/** Places closer than this are the same, in frames. */
const SAME = 0.02;
/** A hand that moved by less has only touched the mark. */
const TOUCHED_PX = 4;

const byId = (id) => document.getElementById(id);

/** The mark that is held: its event, where it was, where it is, and by what. */
let held = null;
/** The mark that has the keyboard; the panel may be put there anew under it. */
let last = null;

/** A moment as a place among the frames. */
function placeOf(time) {
  const { times, count } = scene();
  let after = times.findIndex((one) => one > time);
  if (after < 0) after = count - 1;
  const before = Math.max(0, after - 1);
  const gap = timeOf(after) - timeOf(before);
  const place = before + (gap > 0 ? bounded((time - timeOf(before)) / gap, 0, 1) : 0);
  // Times arrive rounded: what is as good as a sayable place is that place.
  const near = Math.round(place / STEP) * STEP;
  return Math.abs(place - near) < SAME ? near : place;
}

function timeAt(place) {
  const before = Math.floor(place);
  const after = Math.min(scene().count - 1, before + 1);
  return timeOf(before) + (place - before) * (timeOf(after) - timeOf(before));
}

/** Nearest place that can be said, with a frame on either side of it. */
const sayable = (place) => bounded(Math.round(place / STEP) * STEP, STEP, scene().count - 1 - STEP);

const words = (place) => (Number.isInteger(place)
  ? `in frame ${place + 1}`
  : `between frames ${Math.floor(place) + 1} and ${Math.floor(place) + 2}`);

const nameOf = (event) => `${event.what === "landing" ? "Landing" : "Take-off"} of jump ${event.jump}`;

/** Where a moment stands from the left, in pixels, or null outside of what is shown. */
function across(time) {
  const { from, to, side } = scene();
  const share = (time - from) / (to - from);
  if (!(share > -0.001 && share < 1.001)) return null;
  return side + bounded(share, 0, 1) * (byId("timeline").clientWidth - 2 * side);
}

/** Puts a mark where its event is, or where it is being held. */
function put(mark, event, place) {
  const x = across(timeAt(place));
  mark.hidden = x === null;
  mark.setAttribute("aria-valuenow", String(place + 1));
  mark.setAttribute("aria-valuetext", `${words(place)}, ${timeAt(place).toFixed(3)} s`);
  if (x === null) return;
  // The tab stays on the screen; its stem shows the moment.
  const left = bounded(x - mark.offsetWidth / 2, 0, byId("marks").clientWidth - mark.offsetWidth);
  mark.style.left = `${left}px`;
  mark.querySelector(".stem").style.left = `${x - left}px`;
}

function made(event) {
  const mark = document.createElement("div");
  mark.id = `mark-${event.jump}-${event.what}`;
  mark.className = `mark ${event.what}`;
  mark.tabIndex = 0;
  mark.setAttribute("role", "slider");
  mark.setAttribute("aria-label", nameOf(event));
  mark.setAttribute("aria-describedby", "marks-help");
  mark.setAttribute("aria-valuemin", "1");
  const stem = document.createElement("span");
  stem.className = "stem";
  const tab = document.createElement("span");
  tab.className = "tab";
  tab.textContent = scene().events.length > 2 ? `${event.what} ${event.jump}` : event.what;
  mark.append(stem, tab);
  listen(mark, event);
  return mark;
}

/** All marks of the stretch that is shown. */
function place() {
  const marks = byId("marks");
  if (held && !held.mark.isConnected) letGo();
  if (!marks || !scene()?.times) return;
  const gone = new Set(marks.children);
  for (const event of scene().events) {
    const known = byId(`mark-${event.jump}-${event.what}`);
    const mark = known ?? made(event);
    if (!known) marks.append(mark);
    gone.delete(mark);
    mark.setAttribute("aria-valuemax", String(scene().count));
    if (held?.mark !== mark) put(mark, event, placeOf(event.best_s));
  }
  for (const mark of gone) mark.remove();
  if (last && document.activeElement === document.body) byId(last)?.focus({ preventScroll: true });
}

/** The event of a mark as it stands now; facts may be newer than the mark. */
const standing = (event) => scene().events.find((one) => one.jump === event.jump && one.what === event.what);

function hold(mark, event, by) {
  const at = placeOf((standing(event) ?? event).best_s);
  held = { mark, event, was: at, at, by, clip: scene().clip };
  mark.classList.add("held");
  tell();
}

/** Says and shows which event is held and where. */
function tell() {
  const { mark, event, at } = held;
  put(mark, event, at);
  const line = byId("held-line");
  const x = across(timeAt(at));
  line.hidden = x === null;
  line.className = `held-line ${event.what}`;
  line.style.left = `${x ?? 0}px`;
  const says = byId("held-says");
  says.hidden = false;
  says.textContent = `${nameOf(event)}: ${words(at)}. `
    + (held.by === "keys"
      ? "Enter sets it, Escape leaves it as it was."
      : "Let go to set it; back at its place, or with Escape, it stays as it was.");
}

/** Carries what is held to a place; back where it was it is as it was. */
function move(to) {
  held.at = to === held.was ? to : sayable(to);
  tell();
  // The frame that tells: the last on the floor, or the first on it again.
  show(held.event.what === "landing" ? Math.ceil(held.at) : Math.floor(held.at));
}

function letGo() {
  const was = held;
  held = null;
  was?.mark.classList.remove("held");
  if (byId("held-line")) byId("held-line").hidden = true;
  if (byId("held-says")) byId("held-says").hidden = true;
  return was;
}

/** Lets go without a change. */
function leave() {
  letGo();
  place();
  say("Left as it was.");
}

/** Lets go here: the same correction as by the buttons. */
async function drop() {
  const { event, at, was, clip } = letGo();
  if (Math.abs(at - was) < SAME) {
    go(event.jump, event.what);
    return;
  }
  scene().event = standing(event) ?? event;
  const what = event.what === "landing" ? "landing" : "take_off";
  const done = await attempt(async () => {
    await send(`clips/${clip}/jumps/${event.jump}`, { [what]: at });
    say(`${nameOf(event)} is set by hand, ${words(at)}.`);
  });
  if (!done) place();
}

function listen(mark, event) {
  let grip = null;
  mark.addEventListener("pointerdown", (pointer) => {
    if (pointer.button !== 0) return;
    pointer.preventDefault();
    mark.focus({ preventScroll: true });
    if (held) letGo();
    mark.setPointerCapture(pointer.pointerId);
    hold(mark, event, "hand");
    grip = { x: pointer.clientX, from: across(timeAt(held.at)), moved: false };
  });
  mark.addEventListener("pointermove", (pointer) => {
    if (!grip || held?.mark !== mark) return;
    const far = pointer.clientX - grip.x;
    grip.moved ||= Math.abs(far) >= TOUCHED_PX;
    if (!grip.moved) return;
    if (Math.abs(far) < TOUCHED_PX) {
      move(held.was);
      return;
    }
    const { from, to, side } = scene();
    const width = byId("timeline").clientWidth - 2 * side;
    move(placeOf(from + bounded((grip.from + far - side) / width, 0, 1) * (to - from)));
  });
  mark.addEventListener("pointerup", () => {
    grip = null;
    if (held?.mark === mark) drop();
  });
  mark.addEventListener("pointercancel", () => {
    grip = null;
    if (held?.mark === mark) leave();
  });
  mark.addEventListener("blur", () => {
    if (held?.mark === mark && held.by === "keys") leave();
  });
  mark.addEventListener("keydown", (key) => keys(mark, event, key));
}

function keys(mark, event, key) {
  if (key.altKey || key.ctrlKey || key.metaKey) return;
  const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[key.key];
  if (by) {
    key.preventDefault();
    if (held?.mark !== mark) hold(mark, event, "keys");
    // From a place that was found, on to the next that can be said.
    const steps = held.at / STEP;
    const next = by > 0 ? Math.floor(steps + 1e-6) + 1 : Math.ceil(steps - 1e-6) - 1;
    move((next + (key.shiftKey ? 9 * by : 0)) * STEP);
  } else if (key.key === "Enter" || key.key === " ") {
    key.preventDefault();
    if (held?.mark === mark) drop();
    else go(event.jump, event.what);
  }
}

document.addEventListener("stretch-shown", place);
for (const touched of ["focusin", "pointerdown"]) {
  document.addEventListener(touched, (event) => { last = event.target.closest(".mark")?.id ?? null; }, true);
}
document.addEventListener("keydown", (key) => {
  if (key.key === "Escape" && held) leave();
});
