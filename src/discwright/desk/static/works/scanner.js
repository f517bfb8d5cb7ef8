/** A place to try a scanner: keys that a field would lose are kept, and an ending shows what arrived at once. */

const QUICK_MS = 90;
const SHOWN_MOST = 60;
const field = document.getElementById("arrived");
const strokes = document.getElementById("strokes");
const struck = [];
let last = 0;

function insert(text) {
  field.setRangeText(text, field.selectionStart, field.selectionEnd, "end");
}

function named(event) {
  const held = [event.ctrlKey && "Ctrl", event.altKey && "Alt", event.metaKey && "Meta"].filter(Boolean);
  return [...held, event.key === " " ? "space" : event.key].join("+");
}

function show() {
  strokes.hidden = false;
  strokes.textContent = `Keys as they came: ${struck.slice(-SHOWN_MOST).join(" ")}`;
}

field.addEventListener("keydown", (event) => {
  const quick = event.timeStamp - last < QUICK_MS;
  last = event.timeStamp;
  if (["Shift", "Control", "Alt", "Meta", "CapsLock"].includes(event.key)) {
    return;
  }
  struck.push(named(event));
  show();
  if (event.key === "Tab" && quick) {
    // By hand Tab leads on to the next field; a scanner ends with it.
    event.preventDefault();
    insert("\t");
  } else if (event.ctrlKey && event.key === "]") {
    event.preventDefault();
    insert("\x1d");
  }
  if (quick && ["Enter", "Tab"].includes(event.key)) {
    setTimeout(() => field.form.requestSubmit(), 2 * QUICK_MS);
  }
});
