// First step: clips on their way to the program, piece by piece.

import { ask, send, attempt, say, trouble, Refused } from "./ask.js";

const PIECE_BYTES = 4 * 1024 * 1024;
const TRIES = 6;

const pause = (ms) => new Promise((done) => setTimeout(done, ms));
const waiting = [];
let busy = false;
let arrived = () => {};

/** Says what comes; answers where to begin. */
async function announce(file) {
  for (let tries = 0; ; tries += 1) {
    try {
      const announced = await send("clips", {
        name: file.name,
        size: file.size,
        modified_ms: file.lastModified || null,
      });
      return await announced.json();
    } catch (error) {
      // The program may not have noticed yet that the clip broke off.
      if (error.status !== 409 || tries >= TRIES) throw error;
      await pause(500 * (tries + 1));
    }
  }
}

/** Sends one clip, from where it broke off if it did. */
async function bring(file) {
  let { id, at } = await announce(file);
  arrived(id);
  let tries = 0;
  while (at < file.size) {
    try {
      const piece = file.slice(at, at + PIECE_BYTES);
      const answer = await ask(`clips/${id}/bytes?at=${at}`, { method: "PUT", body: piece });
      ({ at } = await answer.json());
      tries = 0;
    } catch (error) {
      const lost = error.status === 404 || error.status === 413 || error.status === 507;
      tries += 1;
      if (lost || tries > TRIES) throw error;
      await pause(400 * 2 ** tries);
      const place = await announce(file);
      if (place.id !== id) throw new Refused(409, "The clip could not be taken up again", "Choose it again");
      at = place.at;
    }
  }
  say(`${file.name} is here.`);
}

async function work() {
  if (busy) return;
  busy = true;
  while (waiting.length > 0) {
    const file = waiting.shift();
    await attempt(() => bring(file));
  }
  busy = false;
}

function take(files) {
  const all = [...files];
  if (all.length === 0) return;
  waiting.push(...all);
  work();
}

/** Makes the door work; `shown` is called with the number of each clip that comes. */
export function begin(shown) {
  arrived = shown;
  for (const id of ["choose", "film"]) {
    const input = document.getElementById(id);
    input.addEventListener("change", () => {
      take(input.files);
      input.value = "";
    });
  }
  const door = document.getElementById("door");
  const over = (on) => (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    door.classList.toggle("open", on);
  };
  document.addEventListener("dragover", over(true));
  document.addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) door.classList.remove("open");
  });
  document.addEventListener("drop", (event) => {
    over(false)(event);
    const files = [...event.dataTransfer.files];
    if (files.length > 0) take(files);
    else trouble({ message: "no file was dropped", hint: "drop the clip itself, or choose it" });
  });
  window.addEventListener("beforeunload", (event) => {
    if (busy) event.preventDefault();
  });
}
