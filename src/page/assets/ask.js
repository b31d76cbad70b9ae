// Asking the program, and telling the person what came of it.

const byId = (id) => document.getElementById(id);

/** An answer that says what went wrong and what to do. */
export class Refused extends Error {
  constructor(status, message, hint) {
    super(message);
    this.status = status;
    this.hint = hint;
  }
}

/** Asks for something; throws `Refused` where it is not given. */
export async function ask(path, options = {}) {
  let answer;
  try {
    answer = await fetch(path, { credentials: "same-origin", ...options });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(0, "The program does not answer", "Look in the terminal whether it still runs");
  }
  if (answer.ok) return answer;
  let why = {};
  try {
    why = await answer.json();
  } catch {
    why = { message: "This was not done", hint: "Load the page again" };
  }
  throw new Refused(answer.status, why.message, why.hint);
}

/** Sends something as JSON. */
export function send(path, body = {}, method = "POST") {
  return ask(path, {
    method,
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });
}

/** Says something to those who listen rather than look. */
export function say(text) {
  byId("say").textContent = "";
  requestAnimationFrame(() => { byId("say").textContent = text; });
}

const sentence = (text) => {
  if (!text) return "";
  const begun = text[0].toUpperCase() + text.slice(1);
  return /[.!?]$/.test(begun) ? begun : begun + ".";
};

/** Shows what went wrong, until the next thing goes well. */
export function trouble(error) {
  const place = byId("trouble");
  place.replaceChildren();
  const what = document.createElement("p");
  what.className = "what";
  what.textContent = sentence(error.message);
  const remedy = document.createElement("p");
  remedy.className = "remedy";
  remedy.textContent = sentence(error.hint ?? "");
  const close = document.createElement("button");
  close.type = "button";
  close.textContent = "Close";
  close.addEventListener("click", calm);
  place.append(what, remedy, close);
  place.hidden = false;
}

/** Takes the trouble off the screen. */
export function calm() {
  byId("trouble").hidden = true;
}

/** Does something and shows the trouble, if any; gives whether it went well. What
    goes well by itself does not take an earlier trouble off the screen. */
export async function attempt(work, byItself = false) {
  try {
    await work();
    if (!byItself) calm();
    return true;
  } catch (error) {
    if (error.name !== "AbortError") trouble(error);
    return false;
  }
}
