// Third step: setting right and keeping.

import { send, attempt, say } from "./ask.js";
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
