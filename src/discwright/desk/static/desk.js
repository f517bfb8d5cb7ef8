/**
 * What all pages share: sentences for what went wrong, jobs that speak when they change, the focus after a part was
 * drawn anew, switches that come back to the same view, and files dropped on a page.
 */

import { register, showKeys } from "/static/keys.js";

const SILENT = "The desk does not answer. See whether it still runs, then try again.";
const said = document.getElementById("said");
const troubleRegion = document.getElementById("trouble");
/** Request that the sentence now shown came from, so that its success takes the sentence away. */
let troubleFrom = "";

/**
 * Tell something to those who listen to the page.
 * @param {string} sentence
 */
export function say(sentence) {
  said.textContent = sentence;
}

function shape(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  svg.classList.add("shape");
  svg.setAttribute("aria-hidden", "true");
  use.setAttribute("href", `/static/shapes.svg#${name}`);
  svg.append(use);
  return svg;
}

/**
 * Show what went wrong at the head of the page; nothing takes it away.
 * @param {string} sentence
 * @param {string} [from] request it came from
 */
export function trouble(sentence, from = "") {
  const shown = troubleRegion.querySelector("p")?.textContent ?? "";
  troubleFrom = from;
  // The same sentence again would be read out again at every poll.
  if (sentence === shown) {
    return;
  }
  troubleRegion.replaceChildren();
  if (!sentence) {
    return;
  }
  const words = document.createElement("p");
  words.textContent = sentence;
  const close = document.createElement("button");
  Object.assign(close, { type: "button", className: "button quiet", textContent: "Close" });
  close.addEventListener("click", () => {
    trouble("");
    document.getElementById("main").focus();
  });
  const line = document.createElement("div");
  line.className = "trouble-line";
  line.append(shape("stop"), words, close);
  troubleRegion.append(line);
  line.scrollIntoView({ block: "nearest" });
}

/** The sentence in an answer that failed: JSON, a page of trouble, or none of ours. */
function sentenceOf(text, status) {
  try {
    const { sentence } = JSON.parse(text);
    if (sentence) {
      return sentence;
    }
  } catch {
    const page = new DOMParser().parseFromString(text, "text/html");
    const found = page.querySelector("[data-sentence]")?.textContent.trim();
    if (found) {
      return found;
    }
  }
  return `The desk answered with ${status} and no reason. Load the page again, then try once more.`;
}

/**
 * Ask the desk for JSON.
 * @param {string} url
 * @param {{method?: string, json?: unknown, body?: BodyInit, signal?: AbortSignal}} [options]
 * @returns {Promise<any>} the answer; null where there is none
 * @throws {Error} with the sentence to show
 */
export async function ask(url, { method = "GET", json, body, signal } = {}) {
  const headers = { Accept: "application/json" };
  if (json !== undefined) {
    headers["Content-Type"] = "application/json";
  }
  let answer;
  try {
    answer = await fetch(url, { method, headers, body: json === undefined ? body : JSON.stringify(json), signal });
  } catch (error) {
    throw error.name === "AbortError" ? error : new Error(SILENT);
  }
  const text = await answer.text();
  if (!answer.ok) {
    throw Object.assign(new Error(sentenceOf(text, answer.status)), { status: answer.status, text });
  }
  return text ? JSON.parse(text) : null;
}

// Requests by htmx ----------------------------------------------------------------------------------------

const requestOf = (detail) => `${detail.requestConfig?.verb} ${detail.requestConfig?.path}`;

/** A job the desk no longer knows would be asked for for ever. */
function askNoMore(job) {
  const still = job.cloneNode(true);
  still.removeAttribute("hx-get");
  still.removeAttribute("hx-trigger");
  job.replaceWith(still);
}

function onFailed(event) {
  const { xhr, elt } = event.detail;
  trouble(sentenceOf(xhr.responseText, xhr.status), requestOf(event.detail));
  if (elt.matches?.(".job[hx-get]") && xhr.status >= 400 && xhr.status < 500) {
    askNoMore(elt);
  }
}

document.addEventListener("htmx:responseError", onFailed);
document.addEventListener("htmx:sendError", (event) => trouble(SILENT, requestOf(event.detail)));
document.addEventListener("htmx:timeout", (event) => trouble(SILENT, requestOf(event.detail)));
document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.successful && troubleFrom === requestOf(event.detail)) {
    trouble("");
  }
});

// Jobs ----------------------------------------------------------------------------------------------------

/** What was last told of each job: its state and how many quarters are done. */
const told = new Map();
/** Job that held the focus before it was drawn anew. */
let focused = "";

const quarterOf = (job) => Math.floor(Number(job.dataset.percent) / 25);

function sayOf(job) {
  const words = job.querySelector(".job-words").textContent;
  const state = job.dataset.state === "running" ? "" : `${job.dataset.state}. `;
  say(`${words}: ${state}${job.querySelector(".job-said").textContent.trim()}`);
}

function announce(job) {
  const { state, href } = job.dataset;
  sayOf(job);
  if (state !== "waiting" && state !== "running") {
    document.dispatchEvent(new CustomEvent("desk:job", { detail: { id: job.dataset.job, state, href } }));
  }
}

function lookAtJobs(first = false) {
  for (const job of document.querySelectorAll("[data-job]")) {
    const id = job.dataset.job;
    const before = told.get(id);
    const now = `${job.dataset.state} ${job.dataset.state === "running" ? quarterOf(job) : ""}`;
    told.set(id, now);
    if (first || before === now) {
      continue;
    }
    announce(job);
    if (before === undefined) {
      // Begun on this page: show it, with its stop button next in line.
      job.focus();
    }
  }
}

document.addEventListener("htmx:beforeSwap", (event) => {
  const { target } = event.detail;
  focused = target.contains(document.activeElement) ? (target.dataset?.job ?? "") : "";
});
document.addEventListener("htmx:afterSettle", () => {
  const job = focused && document.getElementById(`job-${focused}`);
  if (job && !job.contains(document.activeElement)) {
    (job.querySelector("a[href], button") ?? job).focus();
  }
  focused = "";
  lookAtJobs();
});

// Switches ------------------------------------------------------------------------------------------------

/** Press the next button of a switch. */
function next(form) {
  const buttons = [...form.querySelectorAll("button")];
  const at = buttons.findIndex((button) => button.getAttribute("aria-pressed") === "true");
  buttons[(at + 1) % buttons.length].click();
}

function setUpSwitches() {
  // The view lives in the address, which may have changed since the page was drawn.
  for (const form of document.querySelectorAll("form[data-here]")) {
    form.addEventListener("submit", () => {
      form.elements.here.value = location.pathname + location.search + location.hash;
    });
  }
  for (const [path, key, words] of [
    ["/units", "Shift+U", "Other units"],
    ["/look", "Shift+L", "Next look: light, dark, that of this computer"],
  ]) {
    const form = document.querySelector(`form[action="${path}"]`);
    if (form) {
      register({ keys: [key], words, where: "Every page", run: () => next(form) });
    }
  }
  const button = document.getElementById("keys-button");
  button.hidden = false;
  button.addEventListener("click", showKeys);
  register({ keys: ["?"], words: "List of the keys of this page", where: "Every page", button });
}

// Dropped files -------------------------------------------------------------------------------------------

const hasFiles = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");
const zone = () => document.querySelector(".drop-zone");

/** All files of an entry; a folder gives what lies in it, however deep. */
async function filesOf(entry) {
  if (entry.isFile) {
    return [await new Promise((resolve, reject) => entry.file(resolve, reject))];
  }
  const reader = entry.createReader();
  const files = [];
  for (;;) {
    const some = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
    if (some.length === 0) {
      return files;
    }
    for (const one of some) {
      files.push(...(await filesOf(one)));
    }
  }
}

/** Hand what was dropped to whoever on the page takes files. */
async function onDrop(event) {
  if (!hasFiles(event)) {
    return;
  }
  event.preventDefault();
  zone()?.classList.remove("over");
  if (!zone()) {
    return;
  }
  // Entries are only to be had before the first wait.
  const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry()).filter(Boolean);
  let files;
  try {
    files = (await Promise.all(entries.map(filesOf))).flat();
  } catch {
    trouble("What was dropped could not be read. Choose the files with the button instead.");
    return;
  }
  const untaken = document.dispatchEvent(new CustomEvent("desk:files", { detail: { files }, cancelable: true }));
  if (untaken) {
    trouble("Files cannot be sent from this page. Choose them with the button instead.");
  }
}

function setUpDrops() {
  window.addEventListener("dragover", (event) => {
    if (hasFiles(event)) {
      // Without this a dropped file would replace the page.
      event.preventDefault();
      event.dataTransfer.dropEffect = zone() ? "copy" : "none";
      zone()?.classList.add("over");
    }
  });
  window.addEventListener("dragleave", (event) => event.relatedTarget ?? zone()?.classList.remove("over"));
  window.addEventListener("drop", onDrop);
}

setUpDrops();
setUpSwitches();
lookAtJobs(true);
