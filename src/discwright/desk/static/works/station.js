/**
 * The station: the scan field is where whatever is typed goes, a press is sent without leaving the page, and what cannot
 * be sent is kept. Without this script every form works by itself.
 */

import { ask, say, trouble } from "/static/desk.js";
import { keepTrying, keepUnsent, send, show } from "/static/works/unsent.js";

const SILENT = "The desk does not answer. What you scanned is still in the field: try again.";
const PHOTO_BYTES = 12 * 1024 * 1024;
/** A scanner types a letter in less time than this, ms. */
const QUICK_MS = 90;
const main = document.getElementById("main");
let lastStroke = 0;

const field = () => document.getElementById("code");
const isTyping = (target) => target instanceof Element && target.closest("input:not([type=file]), textarea, select") !== null;

// Pages in place -------------------------------------------------------------------------------------------

/** Show another view of the station without leaving the page; false where the desk does not answer. */
async function visit(url, { push = true } = {}) {
  let answer;
  let text;
  try {
    answer = await fetch(url, { headers: { Accept: "text/html" } });
    text = await answer.text();
  } catch {
    return false;
  }
  const page = new DOMParser().parseFromString(text, "text/html");
  const found = page.getElementById("main");
  if (!found || !new URL(answer.url).pathname.startsWith("/station")) {
    location.assign(url);
    return true;
  }
  trouble("");
  main.replaceChildren(...found.childNodes);
  document.title = page.title;
  if (push) {
    history.pushState(null, "", answer.url);
  }
  setUp();
  tell();
  return true;
}

/** What changed, for those who hear the page. */
function tell() {
  const parts = [...main.querySelectorAll(".station-said, .done-line .mark, .grown-number, .scanned-head")];
  say(parts.map((one) => one.textContent.replace(/\s+/g, " ").trim()).join(". "));
}

function setUp({ focus = true } = {}) {
  const photo = document.getElementById("photo-place");
  if (photo) {
    photo.hidden = false;
  }
  if (focus) {
    main.querySelector("[autofocus]")?.focus();
  }
  show();
}

// Scanning -------------------------------------------------------------------------------------------------

async function look(code) {
  if (!code.trim()) {
    return;
  }
  if (!(await visit(`/station?code=${encodeURIComponent(code)}`))) {
    trouble(SILENT);
    field()?.select();
  }
}

/** Whatever is typed while no field has the focus is a scan: letters of it must do nothing else. */
function onKeyDown(event) {
  const quick = event.timeStamp - lastStroke < QUICK_MS;
  lastStroke = event.timeStamp;
  if (event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]")) {
    return;
  }
  if (event.target === field() && event.key === "Tab" && quick && field().value) {
    event.preventDefault();
    look(field().value);
    return;
  }
  const letter = event.key.length === 1 && event.key !== " " && event.key !== "?";
  if (letter && !isTyping(event.target) && field()) {
    event.stopPropagation();
    field().value = "";
    field().focus();
  }
}

async function onPhoto(input) {
  const [file] = input.files;
  if (!file) {
    return;
  }
  if (file.size > PHOTO_BYTES) {
    trouble("The photograph has more than 12 MiB. Take it at a smaller size.");
    return;
  }
  say("Looking through the photograph.");
  try {
    const { number, sentence } = await ask("/api/works/photo", { method: "POST", body: file });
    if (number) {
      await look(number);
    } else {
      trouble(sentence);
    }
  } catch (error) {
    trouble(error.message);
  }
  if (input.isConnected) {
    input.value = "";
  }
}

// Presses --------------------------------------------------------------------------------------------------

function pressOf(form, submitter) {
  const fields = new FormData(form, submitter);
  const here = main.querySelector(".station-list [aria-pressed=true]")?.value;
  if (here) {
    // The station where it was pressed, wherever the device stands when it is sent.
    fields.set("station", here);
  }
  return {
    id: String(fields.get("key")), url: form.action, body: new URLSearchParams(fields).toString(),
    words: form.dataset.tap, at: new Date().toISOString(),
  };
}

async function press(form, submitter) {
  if (form.dataset.sending) {
    return;
  }
  form.dataset.sending = "yes";
  submitter?.setAttribute("aria-disabled", "true");
  const own = pressOf(form, submitter);
  const { go, why, again } = await send(own);
  delete form.dataset.sending;
  submitter?.removeAttribute("aria-disabled");
  if (go && why === undefined) {
    await arrive(go);
  } else if (again) {
    keepUnsent({ ...own, why });
    say(`Not sent yet: ${own.words}`);
    field()?.focus();
  } else if (go) {
    await visit(go);
  } else {
    trouble(why);
  }
}

async function arrive(go) {
  if (!(await visit(go))) {
    trouble("It was written, but the desk does not answer any more. Scan the next part when it does.");
  }
}

/** A part scanned into a field for a number is no number. */
function isScan(form) {
  const big = form.querySelector(".big input");
  return big !== null && /^\s*\W*(LA|MA|MO|ST)\d/i.test(big.value);
}

function onSubmit(event) {
  const form = event.target;
  if (form.id === "scan") {
    event.preventDefault();
    look(field().value);
  } else if (form.dataset.tap !== undefined) {
    event.preventDefault();
    if (isScan(form)) {
      look(form.querySelector(".big input").value);
    } else {
      press(form, event.submitter);
    }
  }
}

window.addEventListener("keydown", onKeyDown, { capture: true });
document.addEventListener("submit", onSubmit);
document.addEventListener("change", (event) => event.target.id === "photo" && onPhoto(event.target));
window.addEventListener("popstate", () => visit(location.href, { push: false }));
// Whoever was quicker than the script keeps the focus where it was put.
setUp({ focus: document.activeElement === document.body });
keepTrying(async (go) => {
  // Nobody is led away from what is being typed.
  if (!field()?.value && !(isTyping(document.activeElement) && document.activeElement !== field())) {
    await visit(go);
  }
});
