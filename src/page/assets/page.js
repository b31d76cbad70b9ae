// The page as a whole: which clip is open, what is new, what stands where.

import { ask, send, attempt, say, trouble, calm } from "./ask.js";
import * as bring from "./bring.js";
import * as film from "./film.js";
import * as mark from "./mark.js";
import * as forms from "./forms.js";
import * as day from "./day.js";
import "./marks.js";

const byId = (id) => document.getElementById(id);
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

const numberOf = (address) => {
  const number = Number(new URL(address, location.href).searchParams.get("clip"));
  return number > 0 ? number : null;
};

let clip = numberOf(location.href);
let version = null;

const shown = new Map();
const fields = (place) => [...place.querySelectorAll("input[name], select[name]")]
  .map((field) => [`${field.form?.id} ${field.name} ${field.type === "checkbox" ? field.value : ""}`, field]);

/** What the person typed or chose that the program does not know of yet. */
function typed(place) {
  const changed = ([, field]) => {
    if (field.type === "checkbox") return field.checked !== field.defaultChecked;
    if (field.options) return [...field.options].some((option) => option.selected !== option.defaultSelected);
    return field.type !== "hidden" && field.value !== field.defaultValue;
  };
  return new Map(fields(place).filter(changed).map(([key, field]) => [key, field.type === "checkbox" ? field.checked : field.value]));
}

/** Puts HTML into a place, if it is new there, and leaves keyboard and typing as they were. */
function put(place, html) {
  if (shown.get(place.id) === html) return false;
  shown.set(place.id, html);
  const focus = document.activeElement?.id;
  const before = typed(place);
  const opened = [...place.querySelectorAll("details[open][id]")].map((one) => one.id);
  place.innerHTML = html;
  for (const id of opened) byId(id)?.setAttribute("open", "");
  for (const [key, field] of fields(place)) {
    if (!before.has(key)) continue;
    if (field.type === "checkbox") field.checked = before.get(key);
    else field.value = before.get(key);
  }
  if (focus && document.activeElement?.id !== focus) byId(focus)?.focus({ preventScroll: true });
  return true;
}

/** Makes the second step's panel work; `patch` is one the person was moving. */
function workFloor(patch) {
  const steps = document.querySelector("[data-steps]");
  if (steps) byId("steps").replaceChildren(...steps.childNodes);
  mark.begin(patch);
  film.begin(true);
  byId("measure")?.addEventListener("click", measure);
  byId("again")?.addEventListener("click", () => attempt(() => send(`clips/${clip}/again`)));
  byId("suggest")?.addEventListener("click", () => attempt(() => send(`clips/${clip}/suggest`)));
  byId("speed")?.addEventListener("submit", (event) => {
    event.preventDefault();
    const fps = Number(byId("fps").value) || null;
    attempt(() => send(`clips/${clip}/speed`, { fps }));
  });
}

/** Makes the third step's panel work. */
function workJump() {
  forms.begin(kept);
  for (const button of document.querySelectorAll("[data-event]")) {
    button.addEventListener("click", () => {
      film.go(Number(button.dataset.jump), button.dataset.event, "jump");
      byId("screen").scrollIntoView({ block: "nearest" });
    });
  }
}

function measure() {
  const others = byId("others")?.checked ?? false;
  attempt(async () => {
    await send(`clips/${clip}/floor`, { ...mark.marked(), others });
    say("Measuring.");
  });
}

/** What was kept is shown in its day; a clip thrown away is closed. */
async function kept(done) {
  if (done.thrown_away) await open(null);
  await day.showDay(done);
  byId("day-title").scrollIntoView({ block: "start" });
}

/** The patch that the person moved and that is not measured yet. */
function moved(of) {
  const element = byId("film-of");
  if (!element || element.dataset.clip !== String(of) || "measured" in element.dataset) return null;
  const now = mark.marked();
  const was = element.dataset.patch;
  return now && `${now.x},${now.y},${now.w},${now.h}` !== was ? now : null;
}

let held = false;
document.addEventListener("pointerdown", () => { held = true; }, true);
for (const end of ["pointerup", "pointercancel"]) {
  window.addEventListener(end, () => { held = false; }, true);
}

/** Waits until nothing is being dragged, which a fresh panel would drop. */
async function handsOff() {
  for (let tries = 0; held && tries < 100; tries += 1) await pause(50);
}

/** Shows a clip's panels as they are now. */
async function refresh() {
  const mine = clip;
  await handsOff();
  const stage = byId("film-of")?.dataset.measured;
  const wasOpen = byId("film-of") !== null;
  const [floor, jump] = await Promise.all([
    ask(`clips/${mine}/floor`).then((answer) => answer.text()),
    ask(`clips/${mine}/jumps`).then((answer) => answer.text()),
  ]);
  await handsOff();
  if (mine !== clip) return;
  const patch = moved(mine);
  if (put(byId("floor-panel"), floor)) workFloor(patch);
  else film.begin(false);
  if (put(byId("jump-panel"), jump)) workJump();
  const narrow = window.innerWidth < 832;
  if (narrow && !wasOpen && byId("film-of")) byId("floor").scrollIntoView({ block: "start" });
  const measured = byId("film-of")?.dataset.measured !== undefined;
  if (measured && stage === undefined) {
    const heights = [...document.querySelectorAll("article.jump .height")].map((one) => one.textContent);
    say(heights.length > 0 ? `Measured: ${heights.join(", ")}.` : "Measured; no jump was found.");
    if (heights.length > 0 && narrow) {
      byId("jump-title").scrollIntoView({ block: "start" });
    }
  }
}

/** Opens a clip, or none. */
async function open(number, move = false) {
  clip = number;
  version = null;
  const address = number ? `?clip=${number}` : location.pathname;
  history.replaceState(null, "", address);
  if (!number) {
    const page = await ask("").then((answer) => answer.text());
    const fresh = new DOMParser().parseFromString(page, "text/html");
    for (const id of ["floor-panel", "jump-panel", "steps"]) {
      byId(id).replaceChildren(...fresh.getElementById(id).childNodes);
      shown.delete(id);
    }
    workFloor(null);
    workJump();
    current();
    return;
  }
  await attempt(refresh);
  current();
  if (move) byId("floor-title").focus();
}

function current() {
  for (const item of document.querySelectorAll("#shelf [data-clip]")) {
    const is = item.dataset.clip === String(clip);
    item.querySelector(".name").setAttribute("aria-current", String(is));
  }
}

/** Listens for news for as long as the page is open. */
async function news() {
  let at = 0;
  for (;;) {
    try {
      const answer = await ask(`state?since=${at}`);
      const told = await answer.json();
      at = told.at;
      if (told.closed) {
        trouble({ message: "the page was closed in the terminal", hint: "start it again there" });
        return;
      }
      put(byId("shelf"), told.shelf);
      current();
      const mine = told.clips.find((one) => one.id === clip);
      if (clip && !mine) await open(null);
      else if (mine && mine.version !== version) {
        version = mine.version;
        await attempt(refresh);
      }
    } catch (error) {
      trouble(error);
      await pause(2000);
      at = 0;
    }
  }
}

function shelf() {
  byId("shelf").addEventListener("click", (event) => {
    const away = event.target.closest("[data-away]");
    const name = event.target.closest("a.name");
    if (away) attempt(() => ask(`clips/${away.dataset.away}`, { method: "DELETE" }));
    else if (name && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      open(numberOf(name.href), true);
    }
  });
  byId("invite")?.addEventListener("click", () => attempt(async () => {
    const answer = await send("phone");
    byId("invitation").innerHTML = await answer.text();
  }));
}

bring.begin((id) => { if (!clip || !byId("film-of") || "measured" in byId("film-of").dataset) open(id); });
shelf();
day.beginDay();
workFloor(null);
workJump();
news();
window.addEventListener("online", calm);
