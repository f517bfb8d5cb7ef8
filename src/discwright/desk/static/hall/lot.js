/**
 * The page of a lot: the picture as large as there is room, a cross that the arrow keys move, and a copy of what was
 * entered on this device until the lot is judged. Every press is a form that is sent; without this script all of it
 * works too. What a tap means is worked out at the desk.
 */

import { say } from "/static/desk.js";

/** Steps of the cross and where it begins, as shares of the picture. */
const STEP = 0.005;
const LARGE_STEP = 0.05;
const MOST_PX = 900;
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const form = document.getElementById("inspect");
const face = document.getElementById("face");
const cross = document.getElementById("cross");
const at = { x: 0.5, y: 0.15 };

// The picture ----------------------------------------------------------------------------------------------

function setSize() {
  const room = face.closest(".lot-face").clientWidth;
  const size = Math.round(Math.max(320, Math.min(room, innerHeight - 90, MOST_PX)));
  face.style.width = `${size}px`;
  face.style.minWidth = "0";
  face.style.height = `${size}px`;
  document.getElementById("picture-px").value = String(face.clientWidth);
  drawCross();
}

function showCross() {
  cross.removeAttribute("hidden");
  document.getElementById("set-cross").hidden = false;
  drawCross();
}

function drawCross() {
  cross.style.left = `${face.clientLeft + at.x * face.clientWidth}px`;
  cross.style.top = `${face.clientTop + at.y * face.clientHeight}px`;
}

/** Send the form as if the button for the cross had been pressed; where it stands goes with it. */
function setAtCross() {
  document.getElementById("cross-x").value = (at.x * face.clientWidth).toFixed(1);
  document.getElementById("cross-y").value = (at.y * face.clientHeight).toFixed(1);
  form.requestSubmit(document.getElementById("set-cross"));
}

function onKey(event) {
  const move = MOVES[event.key];
  if (event.key === "Enter") {
    event.preventDefault();
    if (cross.hasAttribute("hidden")) {
      say("Move the cross with the arrow keys first.");
      return;
    }
    setAtCross();
    return;
  }
  if (!move || event.ctrlKey || event.altKey || event.metaKey) {
    return;
  }
  event.preventDefault();
  const step = event.shiftKey ? LARGE_STEP : STEP;
  at.x = Math.min(1, Math.max(0, at.x + step * move[0]));
  at.y = Math.min(1, Math.max(0, at.y + step * move[1]));
  showCross();
  const across = Math.round(100 * at.x);
  const down = Math.round(100 * at.y);
  say(`Cross at ${across} percent across, ${down} percent down.`);
}

// What was entered -----------------------------------------------------------------------------------------

const PREFIX = "lot-entered:";
const NOTHING = ["", "[]"];

/** Only this device's own lots, and only while the browser keeps anything. */
function store() {
  try {
    return window.localStorage;
  } catch {
    return null;
  }
}

/** What was kept of lots of this run that are judged meanwhile. */
function forgetJudged(kept) {
  const [, run, lot] = form.dataset.kept.split(" ");
  for (const name of Object.keys(kept ?? {})) {
    const [, of, number] = name.startsWith(PREFIX) ? name.split(" ") : [];
    if (of === run && number !== lot) {
      kept.removeItem(name);
    }
  }
}

function keep() {
  const kept = store();
  forgetJudged(kept);
  const name = PREFIX + form.dataset.kept;
  const field = form.elements.defects;
  const before = kept?.getItem(name) ?? "";
  if (!NOTHING.includes(field.value)) {
    kept?.setItem(name, field.value);
    return;
  }
  if (NOTHING.includes(before) || sessionStorage.getItem(name) === "cleared") {
    kept?.removeItem(name);
    return;
  }
  offer(name, before);
}

/** Defects that this device kept of this lot, and that the form does not hold: take them up again, or forget them. */
function offer(name, before) {
  let count;
  try {
    count = JSON.parse(before).length;
  } catch {
    store()?.removeItem(name);
    return;
  }
  const line = document.getElementById("kept-here");
  line.hidden = false;
  document.getElementById("kept-words").textContent = `${count} defect${count === 1 ? "" : "s"}.`;
  document.getElementById("kept-take").addEventListener("click", () => {
    form.elements.defects.value = before;
  });
  document.getElementById("kept-forget").addEventListener("click", () => {
    store()?.removeItem(name);
    line.hidden = true;
    document.querySelector(".take-number").closest("[role=group]").querySelector(".main").focus();
  });
}

/** One press is sent once; the page that comes brings its own buttons. */
function onSubmit(event) {
  if (form.dataset.sending) {
    event.preventDefault();
    return;
  }
  form.dataset.sending = "yes";
  const act = event.submitter?.value ?? "";
  const name = PREFIX + form.dataset.kept;
  // The last defect was removed on purpose: the empty list that comes back is no loss.
  sessionStorage.setItem(name, act.startsWith("remove-") ? "cleared" : "");
}

form.addEventListener("submit", onSubmit);
window.addEventListener("pageshow", () => {
  delete form.dataset.sending;
});
if (face) {
  face.addEventListener("keydown", onKey);
  face.addEventListener("focus", () => {
    if (face.matches(":focus-visible")) {
      showCross();
    }
  });
  new ResizeObserver(setSize).observe(face.closest(".lot-face"));
  setSize();
}
document.getElementById("set-cross")?.addEventListener("click", (event) => {
  if (!document.getElementById("cross-x").value) {
    event.preventDefault();
    setAtCross();
  }
});
keep();
