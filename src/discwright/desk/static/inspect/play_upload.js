/**
 * A capture dropped on a part, or chosen: sent to the desk, and played against the programme as soon as it has arrived.
 * What happens to a file on its way is upload_send.js's.
 */

import { say } from "/static/desk.js";
import { begunBefore, Sending } from "/static/upload_send.js";

const STATES = {
  waiting: ["waiting", "waiting"],
  sending: ["running", "sending"],
  retrying: ["waiting", "trying again"],
  checking: ["running", "being checked"],
  paused: ["stopped", "paused"],
  ready: ["ready", "ready"],
  refused: ["failed", "refused"],
};
const UNREACHED = "The desk does not answer; nothing is lost, and sending goes on when it does.";
const ONE = "One capture at a time; drop a single file.";

const $ = (id) => document.getElementById(id);
/** @type {Sending|null} */
let sending = null;
let state = "";

/** Send a file; one that was half sent before goes on where it was. */
function take(file) {
  if (sending && state !== "ready" && state !== "refused") {
    say(ONE);
    return;
  }
  sending = new Sending(file, begunBefore(file), draw);
  state = "";
  $("play-sending").hidden = false;
  sending.run();
}

function draw(one) {
  if (one !== sending) return;
  const [shape, word] = STATES[one.state];
  const percent = Math.floor((100 * one.sent) / Math.max(one.file.size, 1));
  $("play-name").textContent = one.name;
  $("play-mark").className = `mark ${shape}`;
  $("play-mark").querySelector("use").setAttribute("href", `/static/shapes.svg#${shape}`);
  $("play-word").textContent = word;
  $("play-bar").value = percent;
  $("play-bar").hidden = one.state === "ready" || one.state === "refused";
  $("play-said").textContent = said(one, percent);
  $("play-pause").hidden = !["waiting", "sending", "retrying"].includes(one.state);
  $("play-go-on").hidden = one.state !== "paused" && one.state !== "refused";
  $("play-remove").hidden = one.state === "checking" || one.state === "ready";
  if (one.state === state) return;
  state = one.state;
  if (state === "ready") start(one);
}

function said(one, percent) {
  if (one.state === "sending") return `${percent} %${left(one.secondsLeft())}`;
  if (one.state === "retrying") return one.sentence || UNREACHED;
  return one.sentence || one.words;
}

function left(seconds) {
  if (seconds === null) return "";
  return seconds < 60 ? `, about ${Math.max(1, Math.ceil(seconds))} s left` : `, about ${Math.ceil(seconds / 60)} min left`;
}

/** It has arrived: hold it against the programme, with what the form says. */
function start(one) {
  const choice = $("play-upload");
  const option = new Option(`${one.name}, ${one.words}`, one.id, true, true);
  choice.append(option);
  $("play-ready").hidden = false;
  $("play-form").requestSubmit();
}

/** The file has gone to its play: it can be sent no second time from here. */
function begun(event) {
  if (event.target !== $("play-form") || !event.detail.successful) return;
  const choice = $("play-upload");
  choice.selectedOptions[0]?.remove();
  $("play-ready").hidden = choice.options.length === 0;
  $("play-sending").hidden = true;
  sending = null;
}

async function remove() {
  const gone = sending;
  sending = null;
  $("play-sending").hidden = true;
  $("play-choose").focus();
  await gone?.discard().catch(() => say(UNREACHED));
}

function listen() {
  $("play-drop").hidden = false;
  $("play-choose").addEventListener("click", () => $("play-file").click());
  $("play-file").addEventListener("change", ({ target }) => {
    const [file] = target.files;
    target.value = "";
    if (file) take(file);
  });
  $("play-pause").addEventListener("click", () => sending?.pause());
  $("play-go-on").addEventListener("click", async () => {
    await sending?.again();
    sending?.run();
  });
  $("play-remove").addEventListener("click", remove);
  document.addEventListener("htmx:afterRequest", begun);
  document.addEventListener("desk:files", (event) => {
    event.preventDefault();
    const { files } = event.detail;
    if (files.length === 1) take(files[0]);
    else say(ONE);
  });
  addEventListener("online", () => sending?.hurry());
}

listen();
