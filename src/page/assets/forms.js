// Third step: setting right and keeping; and the day.

import { ask, send, attempt, say } from "./ask.js";
import { cursor } from "./film.js";

const byId = (id) => document.getElementById(id);

/** Sets an event, or takes that back. */
async function correct(clip, button) {
  const { set, offset, place, undo, jump } = { ...button.dataset };
  let change = undo;
  if (set) {
    const at = place === undefined ? (await cursor()) + Number(offset) : Number(place);
    change = { [set]: at };
  }
  await attempt(async () => {
    await send(`clips/${clip}/jumps/${jump}`, change);
    say(undo ? "Taken back." : "Set by hand.");
  });
}

/** Keeps what is ticked. */
async function keep(form, kept) {
  const fields = new FormData(form);
  const wanted = {
    athlete: fields.get("athlete"),
    kind: fields.get("kind"),
    load_kg: Number(fields.get("load_kg")) || 0,
    date: fields.get("date"),
    note: fields.get("note") ?? "",
    jumps: fields.getAll("jumps").map(Number),
    throw_away: fields.get("throw_away") === "on",
  };
  await attempt(async () => {
    const answer = await send(`clips/${form.dataset.clip}/keep`, wanted);
    const done = await answer.json();
    localStorage.setItem("underfoot-athlete", done.athlete);
    say(done.said);
    kept(done);
  });
}

/** Makes the third step's panel work. */
export function begin(kept) {
  const panel = byId("jump-panel");
  const clip = byId("film-of")?.dataset.clip;
  for (const button of panel.querySelectorAll("[data-set], [data-undo]")) {
    button.addEventListener("click", () => correct(clip, button));
  }
  const form = byId("keep");
  if (!form) return;
  const athlete = byId("athlete");
  athlete.value ||= localStorage.getItem("underfoot-athlete") ?? "";
  const load = byId("load");
  const warn = () => { byId("cautions").hidden = !(Number(load.value) > 0); };
  load.addEventListener("input", warn);
  warn();
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    keep(form, kept);
  });
}

const chosen = (form) => {
  const fields = new FormData(form);
  const query = new URLSearchParams();
  query.set("athlete", fields.get("athlete"));
  query.set("kind", fields.get("kind"));
  query.set("load_kg", String(Number(fields.get("load_kg")) || 0));
  if (fields.get("date")) query.set("date", fields.get("date"));
  return query;
};

/** Shows the day that is chosen. */
async function day() {
  const form = byId("day-choice");
  if (!form.elements.athlete.value) return;
  await attempt(async () => {
    const answer = await ask(`day?${chosen(form)}`);
    byId("day").innerHTML = await answer.text();
    listen();
  });
}

/** Shows the day of what was just kept. */
export async function showDay(done) {
  const form = byId("day-choice");
  const athlete = form.elements.athlete;
  if (![...athlete.options].some((option) => option.value === done.athlete)) {
    [...athlete.options].filter((option) => !option.value).forEach((option) => option.remove());
    athlete.append(new Option(done.athlete, done.athlete));
  }
  athlete.value = done.athlete;
  form.elements.kind.value = done.kind;
  form.elements.load_kg.value = String(done.load_kg);
  form.elements.date.value = done.date;
  await day();
}

function listen() {
  const view = document.querySelector(".day-view");
  if (!view) return;
  const { athlete, date } = view.dataset;
  for (const form of view.querySelectorAll("form.mat")) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const value = Number(form.elements.value.value);
      const order = Number(form.dataset.order);
      // No mat shows a height below 3 cm, nor a time above 3 s.
      const what = value < 3 ? "time" : "height";
      attempt(async () => {
        await send("day/mat", { athlete, date, order, what, value });
        say("The mat's value is entered.");
        await day();
      });
    });
  }
  const mark = (button, trial, reason) => attempt(async () => {
    await send("day/aside", { trial: Number(trial), reason });
    say(reason ? "The trial no longer counts." : "The trial counts again.");
    await day();
  });
  for (const button of view.querySelectorAll("[data-aside]")) {
    button.addEventListener("click", () => mark(button, button.dataset.aside, "on the page"));
  }
  for (const button of view.querySelectorAll("[data-restore]")) {
    button.addEventListener("click", () => mark(button, button.dataset.restore, ""));
  }
}

/** Makes the day's part of the page work. */
export function beginDay() {
  const form = byId("day-choice");
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    day();
  });
  const last = localStorage.getItem("underfoot-athlete");
  const known = [...form.elements.athlete.options].some((option) => option.value === last);
  if (known) form.elements.athlete.value = last;
  if (form.elements.athlete.value) day();
}
