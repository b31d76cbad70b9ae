// The day of one athlete: trials, mat, and jumps under load.

import { ask, send, attempt, say } from "./ask.js";

const byId = (id) => document.getElementById(id);

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
  const there = await attempt(async () => {
    const answer = await ask(`day?${chosen(form)}`);
    byId("day").innerHTML = await answer.text();
    listen();
  });
  // Another day than the one asked for would mislead.
  if (!there) byId("day").replaceChildren();
  await attempt(() => loads(form), true);
}

/** Shows the jumps under load of that day; what is missing for them can be entered. */
async function loads(form) {
  const query = chosen(form);
  const shown = document.querySelector(".day-view")?.dataset.date;
  if (shown) query.set("date", shown);
  const place = byId("loads");
  // Two columns where there is room, as the style has it.
  const width = place.clientWidth > 880 ? (place.clientWidth - 24) / 2 : place.clientWidth;
  query.set("w", String(Math.round(width)));
  const answer = await ask(`day/loads?${query}`);
  place.innerHTML = await answer.text();
  const body = byId("body-mass");
  body?.addEventListener("submit", (event) => {
    event.preventDefault();
    const { athlete } = body.closest("[data-athlete]").dataset;
    attempt(async () => {
      const mass_kg = Number(body.elements.mass_kg.value);
      await send("day/body", { athlete, date: body.dataset.date, mass_kg });
      say("The body mass is entered.");
      await loads(form);
      byId("loads-title").focus();
    });
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
