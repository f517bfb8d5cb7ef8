/**
 * The part of the titles page that sends audio: choosing, the list with its buttons, and the title made at the end.
 * Files dropped on the page come from desk.js; what happens to a file on its way is upload_send.js's.
 */

import { say } from "/static/desk.js";
import { ask, begunBefore, forget, Refusal, Sending } from "/static/upload_send.js";

/** Colour, shape and word of each state. */
const STATES = {
  half: ["unplanned", "unplanned", "half sent"],
  waiting: ["waiting", "waiting", "waiting"],
  sending: ["running", "running", "sending"],
  retrying: ["warn", "loop", "trying again"],
  checking: ["running", "running", "being checked"],
  paused: ["stopped", "stopped", "paused"],
  ready: ["ready", "ready", "ready"],
  refused: ["stop", "failed", "refused"],
};
const UNREACHED = "The desk does not answer; nothing is lost, and sending goes on when it does.";
const CAN_PAUSE = ["waiting", "sending", "retrying"];

const $ = (id) => document.getElementById(id);
/** @type {Set<Row>} */
const rows = new Set();
let sendingNow = false;
/** Row that the next chosen file is meant for. */
let wanted = null;

function append(parent, tag, properties = {}, ...children) {
  const made = Object.assign(document.createElement(tag), properties);
  made.append(...children);
  parent.append(made);
  return made;
}

function shape() {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.classList.add("shape");
  svg.setAttribute("aria-hidden", "true");
  svg.append(document.createElementNS("http://www.w3.org/2000/svg", "use"));
  return svg;
}

/** Time left as people say it. */
function left(seconds) {
  if (seconds === null) {
    return "";
  }
  return seconds < 60 ? `, about ${Math.max(1, Math.ceil(seconds))} s left` : `, about ${Math.ceil(seconds / 60)} min left`;
}

/** One line of the list. Its parts are made once and changed afterwards, so that the focus stays where it is. */
class Row {
  constructor(item = append($("upload-list"), "li", { className: "job" })) {
    this.item = item;
    this.id = item.dataset.upload ?? null;
    this.state = "half";
    /** Bytes as the desk was told, where that is known. */
    this.size = null;
    /** @type {Sending|null} */
    this.sending = null;
    this.words = item.querySelector(".job-words") ?? append(item, "p", { className: "job-words" });
    const state = item.querySelector(".job-state") ?? append(item, "p", { className: "job-state" });
    this.bar = item.querySelector("progress") ?? append(item, "progress", { max: 100, value: 0 });
    this.halfSaid = state.querySelector(".job-said")?.textContent ?? "";
    state.replaceChildren();
    this.mark = append(state, "span", {}, shape());
    this.word = append(this.mark, "span");
    this.said = append(state, "span", { className: "job-said" });
    const act = append(item, "div", { className: "job-act" });
    this.ticked = append(act, "div", { className: "check" });
    const label = append(this.ticked, "label");
    this.tick = append(label, "input", { type: "checkbox", checked: true });
    label.append("In the title");
    this.tick.addEventListener("change", drawForm);
    this.buttons = {
      choose: this.#button(act, "Choose it again", "", () => choose(this)),
      pause: this.#button(act, "Pause", "", () => this.sending.pause()),
      goOn: this.#button(act, "Go on", "", () => this.again()),
      hurry: this.#button(act, "Try now", "", () => this.sending.hurry()),
      again: this.#button(act, "Send again", "", () => this.again()),
      remove: this.#button(act, "Remove", " grave", () => this.remove()),
    };
    rows.add(this);
  }

  get name() {
    return this.words.textContent;
  }

  #button(act, words, kind, run) {
    const title = `${words} (key Enter)`;
    const button = append(act, "button", { type: "button", className: `button${kind}`, textContent: words, title });
    button.addEventListener("click", run);
    return button;
  }

  /** Show what a file being sent tells of itself. */
  follow(sending) {
    const before = this.state;
    this.sending = sending;
    if (sending.id) {
      this.id = this.item.dataset.upload = sending.id;
    }
    this.draw(sending.state, sending.name, Math.floor((100 * sending.sent) / Math.max(sending.file.size, 1)), this.#now());
    if (before !== sending.state && sending.state !== "waiting") {
      say(`${sending.name}: ${STATES[sending.state][2]}. ${sending.sentence}`);
    }
  }

  #now() {
    const { state, sentence, words, sent, file } = this.sending;
    if (state === "sending") {
      return `${Math.floor((100 * sent) / Math.max(file.size, 1))} %${left(this.sending.secondsLeft())}`;
    }
    return state === "retrying" ? sentence || UNREACHED : sentence || words;
  }

  /** Bring the line up to date. */
  draw(state, name, percent, said) {
    const [kind, shapeName, word] = STATES[state];
    this.state = this.item.dataset.state = state;
    this.words.textContent = name;
    this.bar.value = percent;
    this.bar.hidden = state === "ready" || state === "refused";
    this.bar.setAttribute("aria-label", name);
    this.tick.setAttribute("aria-label", `In the title: ${name}`);
    this.mark.className = `mark ${kind}`;
    this.mark.querySelector("use").setAttribute("href", `/static/shapes.svg#${shapeName}`);
    this.word.textContent = word;
    this.said.textContent = said;
    this.ticked.hidden = state !== "ready";
    this.#drawButtons();
    drawForm();
  }

  #drawButtons() {
    const state = this.state;
    const shown = {
      choose: state === "half",
      pause: CAN_PAUSE.includes(state),
      goOn: state === "paused",
      hurry: state === "retrying",
      again: state === "refused",
      remove: state !== "checking",
    };
    const focus = Object.values(this.buttons).find((button) => button === document.activeElement);
    for (const [key, button] of Object.entries(this.buttons)) {
      button.hidden = !shown[key];
      button.setAttribute("aria-label", `${button.textContent}: ${this.name}`);
    }
    if (focus?.hidden) {
      this.item.querySelector("button:not([hidden])")?.focus();
    }
  }

  async again() {
    try {
      await this.sending.again();
    } catch (trouble) {
      say(trouble.message || UNREACHED);
    }
    sendAll();
  }

  /** Throw the upload away, and the line with it. */
  async remove() {
    try {
      await (this.sending ? this.sending.discard() : ask("DELETE", `/${this.id}`));
    } catch (trouble) {
      if (trouble.status !== 404) {
        this.said.textContent = trouble.message || UNREACHED;
        return;
      }
    }
    if (this.id) {
      forget(this.id);
    }
    const next = this.item.nextElementSibling ?? this.item.previousElementSibling;
    (next?.querySelector("button:not([hidden])") ?? $("upload-files")).focus();
    this.item.remove();
    rows.delete(this);
    say(`${this.name}: removed.`);
    drawForm();
  }
}

// Sending -------------------------------------------------------------------------------------------------

/** The line a chosen file belongs to: the one it is wanted for, of its upload, or of a bad file of that name. */
function lineOf(file, id) {
  const all = [...rows];
  return (
    wanted ??
    all.find((row) => id !== null && row.id === id) ??
    all.find((row) => row.state === "refused" && row.sending.file.name === file.name) ??
    new Row()
  );
}

/** Queue chosen files; one that was begun before goes on in its own line. */
function take(files) {
  for (const file of files) {
    const id = wanted?.id ?? begunBefore(file);
    const row = lineOf(file, id);
    wanted = null;
    if (row.sending && row.state !== "refused") {
      continue; // chosen twice
    }
    if (row.size && row.size !== file.size) {
      row.said.textContent = `${file.name} has another length than ${row.name}; choose the same file again.`;
      say(row.said.textContent);
      continue;
    }
    if (row.sending && row.id !== id) {
      row.sending.discard().catch(() => {}); // mended meanwhile: the bad one is of no more use
    }
    row.id = id;
    row.follow(new Sending(file, id, (sending) => row.follow(sending)));
  }
  sendAll();
}

/** Of many files only the audio is meant; a single one is refused by the desk, which says why. */
function takeMany(files) {
  const endings = $("upload").dataset.accept.split(",");
  const audio = files.filter((file) => endings.some((end) => file.name.toLowerCase().endsWith(end)));
  const order = new Intl.Collator(undefined, { numeric: true });
  if (audio.length < files.length && files.length > 1) {
    say(`${audio.length} of ${files.length} files are audio; the others stay where they are.`);
  }
  take(files.length > 1 ? audio.sort((a, b) => order.compare(a.name, b.name)) : files);
}

/** Send what waits, one file after the other. */
async function sendAll() {
  if (sendingNow) {
    return;
  }
  sendingNow = true;
  const next = () => [...rows].find((row) => row.sending && row.state === "waiting");
  for (let row = next(); row; row = next()) {
    await row.sending.run();
  }
  sendingNow = false;
}

function choose(row) {
  wanted = row;
  $("upload-files-input").multiple = row === null;
  $("upload-files-input").click();
}

const canPause = () => [...rows].filter((row) => row.sending && CAN_PAUSE.includes(row.state));

function pauseAll() {
  const going = canPause();
  const paused = [...rows].filter((row) => row.state === "paused");
  going.forEach((row) => row.sending.pause());
  if (going.length === 0) {
    paused.forEach((row) => row.again());
  }
}

// The title -----------------------------------------------------------------------------------------------

/** Ready files that are ticked, in the order of their names: 2 before 10. */
function chosen() {
  const order = new Intl.Collator(undefined, { numeric: true });
  return [...rows].filter((row) => row.state === "ready" && row.tick.checked).sort((a, b) => order.compare(a.name, b.name));
}

/** The form is there as soon as a file is ready; the button for all as soon as there is something to pause. */
function drawForm() {
  const going = canPause().length > 0;
  const pause = $("upload-pause");
  pause.hidden = !going && ![...rows].some((row) => row.state === "paused");
  pause.textContent = pause.dataset.keysWords = going ? "Pause all" : "Go on with all";
  pause.title = `${pause.textContent} (key ${pause.dataset.keys})`;
  $("upload-title").hidden = ![...rows].some((row) => row.state === "ready");
  $("upload-title").querySelector("button").disabled = chosen().length === 0;
}

async function makeTitle(event) {
  event.preventDefault();
  const said = $("upload-title-said");
  said.hidden = true;
  const { name, format } = event.target.elements;
  const json = { uploads: chosen().map((row) => row.id), name: name.value, format: format.value };
  try {
    const made = await ask("POST", "/finish-title", { json });
    location.assign(made.href);
  } catch (trouble) {
    said.hidden = false;
    said.textContent = trouble instanceof Refusal ? trouble.message : UNREACHED;
  }
}

// The page ------------------------------------------------------------------------------------------------

/** Ask the desk what lies there: the lengths of the half ones, and the ready ones of an earlier visit. */
async function begin() {
  for (const item of $("upload-list").querySelectorAll("[data-upload]")) {
    const row = new Row(item);
    row.draw("half", row.name, row.bar.value, row.halfSaid);
  }
  const there = await ask("GET");
  for (const format of there.formats) {
    append($("upload-title-format"), "option", { value: format, textContent: format });
  }
  for (const upload of there.uploads) {
    const known = [...rows].find((row) => row.id === upload.upload);
    if (known) {
      known.size = upload.size;
    } else if (upload.state === "ready") {
      const row = new Row();
      row.id = row.item.dataset.upload = upload.upload;
      row.draw("ready", upload.name, 100, upload.words);
    }
  }
}

function chosenIn({ target }) {
  const files = [...target.files];
  target.value = ""; // so that the same file can be chosen again
  const folder = files[0]?.webkitRelativePath.split("/")[0];
  if (folder && $("upload-title-name").value === "") {
    $("upload-title-name").value = folder;
  }
  takeMany(files);
}

function listen() {
  $("upload-choose").hidden = false;
  $("upload-files").addEventListener("click", () => choose(null));
  $("upload-folder").addEventListener("click", () => $("upload-folder-input").click());
  $("upload-pause").addEventListener("click", pauseAll);
  $("upload-files-input").addEventListener("change", chosenIn);
  $("upload-files-input").addEventListener("cancel", () => (wanted = null));
  $("upload-folder-input").addEventListener("change", chosenIn);
  $("upload-title").addEventListener("submit", makeTitle);
  document.addEventListener("desk:files", (event) => {
    event.preventDefault();
    wanted = null;
    takeMany(event.detail.files);
  });
  addEventListener("online", () => rows.forEach((row) => row.sending?.hurry()));
}

listen();
begin().catch(() => say(UNREACHED));
