/**
 * The scan field of bench and dock: whatever a scanner types goes there. At the dock each scan is sent without leaving
 * the page, one after the other, and the next may be scanned before the answer is there. Without this script every form
 * works by itself.
 */

import { say, trouble } from "/static/desk.js";

/** A scanner types a letter in less time than this, ms. */
const QUICK_MS = 90;
const WAIT_MS = 15_000;
const form = document.getElementById("scan");
const field = document.getElementById("code");
const waiting = [];
let sent = 0;
let sending = false;
let lastStroke = 0;

const isTyping = (target) => target instanceof Element && target.closest("input:not([type=file]), textarea, select") !== null;

/** Digits and signs typed outside a field are a scan; letters stay the page's keys. */
function onKeyDown(event) {
  const quick = event.timeStamp - lastStroke < QUICK_MS;
  lastStroke = event.timeStamp;
  if (event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]")) {
    return;
  }
  if (event.target === field && event.key === "Tab" && quick && field.value) {
    event.preventDefault();
    form.requestSubmit();
    return;
  }
  if (/^[\d\]()]$/.test(event.key) && !isTyping(event.target)) {
    event.stopPropagation();
    field.value = "";
    field.focus();
  }
}

// The dock ------------------------------------------------------------------------------------------------

function silent(code) {
  const answer = document.createElement("div");
  answer.className = "answer answer-failed";
  const word = document.createElement("p");
  word.className = "answer-word";
  word.textContent = "not sent";
  const sentence = document.createElement("p");
  sentence.className = "answer-sentence";
  sentence.textContent = `The desk does not answer. Put ${code} aside and scan it again when it does.`;
  answer.append(word, sentence);
  document.getElementById("answers").replaceChildren(answer);
}

/** Draw anew what stands below the field. */
function show(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const found = page.getElementById("loading");
  if (!found) {
    trouble(page.querySelector("[data-sentence]")?.textContent.trim() || "The desk answered with no page; load it again.");
    return;
  }
  trouble("");
  document.getElementById("loading").replaceChildren(...found.childNodes);
  // The region is new, and so nothing of it is read out by itself.
  say([...document.querySelectorAll(".answer-word, .answer-sentence")].map((one) => one.textContent.trim()).join(": "));
}

async function send({ code, key }) {
  const body = new URLSearchParams({ code, key });
  const ask = () => fetch(form.action, {
    method: "POST", body, headers: { Accept: "text/html" }, signal: AbortSignal.timeout(WAIT_MS),
  });
  try {
    const answer = await ask();
    show(await answer.text());
  } catch {
    silent(code);
  }
}

async function sendAll() {
  if (sending) {
    return;
  }
  sending = true;
  while (waiting.length > 0) {
    await send(waiting.shift());
  }
  sending = false;
}

function onSubmit(event) {
  if (event.target !== form || form.method !== "post") {
    return;
  }
  event.preventDefault();
  const code = field.value;
  field.value = "";
  field.focus();
  if (code.trim()) {
    sent += 1;
    // The desk made the key of the page; each scan has its own number behind it.
    waiting.push({ code, key: `${form.dataset.key}-${sent}` });
    sendAll();
  }
}

// The bench -----------------------------------------------------------------------------------------------

document.getElementById("again")?.addEventListener("click", () => {
  document.getElementById("printed").textContent = "printed again";
});

if (form) {
  window.addEventListener("keydown", onKeyDown, { capture: true });
  document.addEventListener("submit", onSubmit);
  if (document.activeElement === document.body) {
    field.focus();
  }
}
