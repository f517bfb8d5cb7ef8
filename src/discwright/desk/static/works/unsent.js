/**
 * Presses that could not be sent: kept on this device, shown as not sent, sent once when the desk answers again. The key
 * that the desk wrote into each form makes a press that did arrive after all harmless when it is sent again.
 */

import { ask, say } from "/static/desk.js";

/**
 * @typedef {object} Press
 * @property {string} id the key of its form
 * @property {string} url
 * @property {string} body the form, encoded
 * @property {string} words as a person knows it
 * @property {string} at when it was pressed
 * @property {string} [why] why the desk did not take it
 * @property {boolean} [refused] sending it again is of no use
 */

const STORE = "discwright.unsent";
const WAIT_MS = 10_000;
const AGAIN_MS = 4_000;
/** Where the browser keeps nothing, presses are kept with the page. */
let inPage = [];
let sending = false;

/** @returns {Press[]} */
export function unsent() {
  try {
    return JSON.parse(localStorage.getItem(STORE) ?? "[]");
  } catch {
    return inPage;
  }
}

function keep(presses) {
  inPage = presses;
  try {
    localStorage.setItem(STORE, JSON.stringify(presses));
  } catch {
    // Private windows keep nothing: then they are kept until the page is closed.
  }
  show();
}

const without = (id) => unsent().filter((one) => one.id !== id);

/** Put a press into the list, once. */
export function keepUnsent(press) {
  keep([...without(press.id), press]);
}

/**
 * Send a press.
 * @param {Press} press
 * @returns {Promise<{go?: string, why?: string, again: boolean}>} where it leads, or why it was not taken
 */
export async function send(press) {
  try {
    const answer = await ask(press.url, {
      method: "POST", body: new URLSearchParams(press.body), signal: AbortSignal.timeout(WAIT_MS),
    });
    return { go: answer.go, again: false };
  } catch (error) {
    return failed(error);
  }
}

function failed(error) {
  const { status, text } = error;
  if (status === undefined) {
    // No answer, or none that is ours: a sign-in page, a name that another computer has now.
    return { why: "", again: true };
  }
  let said = {};
  try {
    said = JSON.parse(text);
  } catch {
    // A page that says why; its sentence is the error's.
  }
  const again = said.again === true || status === 401 || status === 429 || status >= 500;
  return { why: said.sentence ?? error.message, go: said.go, again };
}

/** Send what waits, in its order; stop where the desk does not answer. */
export async function flush(arrived) {
  if (sending) {
    return;
  }
  sending = true;
  let last = "";
  for (const press of unsent().filter((one) => !one.refused)) {
    const { go, why, again } = await send(press);
    if (why === "" && again) {
      break;
    }
    if (why !== undefined) {
      keep(unsent().map((one) => (one.id === press.id ? { ...one, why, refused: !again } : one)));
      continue;
    }
    keep(without(press.id));
    say(`Sent now: ${press.words}`);
    last = go;
  }
  sending = false;
  if (last) {
    arrived(last);
  }
}

function lineOf(press) {
  const line = document.createElement("li");
  const words = document.createElement("span");
  const state = press.refused ? "not accepted" : "not sent";
  words.textContent = `${press.words}, ${state}, pressed ${new Date(press.at).toLocaleTimeString()}`;
  line.append(words);
  if (press.why) {
    const why = document.createElement("span");
    why.className = "soft";
    why.textContent = press.why;
    line.append(why);
  }
  const drop = document.createElement("button");
  Object.assign(drop, { type: "button", className: "button", textContent: "Forget it" });
  drop.setAttribute("aria-label", `Forget it: ${press.words}`);
  drop.addEventListener("click", () => keep(without(press.id)));
  line.append(drop);
  return line;
}

/** Draw the list anew. */
export function show() {
  const place = document.getElementById("unsent");
  const list = document.getElementById("unsent-list");
  if (!place || !list) {
    return;
  }
  const presses = unsent();
  list.replaceChildren(...presses.map(lineOf));
  place.hidden = presses.length === 0;
}

/**
 * Try again from time to time.
 * @param {(go: string) => void} arrived called with where the last press leads
 */
export function keepTrying(arrived) {
  show();
  const again = () => unsent().some((one) => !one.refused) && flush(arrived);
  again();
  setInterval(again, AGAIN_MS);
  window.addEventListener("online", again);
  window.addEventListener("storage", show);
}
