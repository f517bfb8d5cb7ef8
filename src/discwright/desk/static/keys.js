/**
 * Keys of a page: each is registered with what it does, so that `?` can list them all and each button can say its own.
 * An element may also declare its key with `data-keys` and `data-keys-words`; the key then clicks it.
 */

/**
 * @typedef {object} Binding
 * @property {string[]} keys names such as "+", "f", "Shift+F", "ArrowLeft", "Shift+ArrowLeft", "Space", "Escape"
 * @property {string} words what it does, as a person says it
 * @property {string} [where] heading in the list of keys
 * @property {(event: KeyboardEvent) => void} [run] left out, the key clicks `button`
 * @property {HTMLElement} [button] gets the key into its hint
 * @property {HTMLElement} [within] the key counts only while the focus is in here
 * @property {() => boolean} [when] the key counts only while this holds
 * @property {(event: Event) => void} [released] for keys that are held
 * @property {boolean} [repeats] runs again while the key stays down
 */

const EVERY_PAGE = "Every page";
const OFF = "discwright.keys";
const TYPED_INTO =
  "textarea, select, [contenteditable=''], [contenteditable='true'], " +
  "input:not([type=checkbox], [type=radio], [type=range], [type=button], [type=submit], [type=file])";
const SHOWN = {
  ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓",
  Space: "space", Escape: "Esc", PageUp: "page up", PageDown: "page down",
};

/** @type {Set<Binding & {names: string[]}>} */
const bindings = new Set();
/** @type {Map<string, Binding>} */
const held = new Map();
let off = remembered();

function remembered() {
  try {
    return localStorage.getItem(OFF) === "off";
  } catch {
    return false;
  }
}

function remember(value) {
  off = value;
  try {
    localStorage.setItem(OFF, value ? "off" : "on");
  } catch {
    // A browser that keeps nothing: the choice holds for this page.
  }
}

const isLetter = (key) => key.length === 1 && key.toLowerCase() !== key.toUpperCase();

/** The one spelling in which keys are compared: letters small, Shift told only where the sign does not tell it. */
function spelled(name) {
  if (name.length > 1 && name.startsWith("Shift+")) {
    return `Shift+${spelled(name.slice(6))}`;
  }
  return isLetter(name) ? name.toLowerCase() : name;
}

/** The name of the key that was struck; empty where Ctrl, Alt or Meta make it the browser's. */
function struck(event) {
  const composing = event.getModifierState("AltGraph");
  if (event.metaKey || (!composing && (event.ctrlKey || event.altKey))) {
    return "";
  }
  const key = event.key === " " ? "Space" : event.key;
  if (key.length === 1 && !isLetter(key)) {
    return key;
  }
  return (event.shiftKey ? "Shift+" : "") + spelled(key);
}

const isSign = (name) => name.replace(/^Shift\+(?=.)/, "").length === 1;

/** True where the element under the focus has its own use for this key. */
function isItsOwn(target, name) {
  if (!(target instanceof Element)) {
    return false;
  }
  if (target.closest(TYPED_INTO)) {
    return true;
  }
  if (name === "Space" || name === "Enter") {
    return target.closest("a[href], button, summary, input") !== null;
  }
  return /Arrow|Home|End|Page/.test(name) && target.closest("input, [role=slider], [role=radiogroup]") !== null;
}

function said(name) {
  const shift = name.startsWith("Shift+") && name.length > 6;
  const key = shift ? name.slice(6) : name;
  const words = SHOWN[key] ?? (isLetter(key) && shift ? key.toUpperCase() : key);
  return shift ? `Shift+${words}` : words;
}

/** The same as assistive programs read it. */
function spoken(name) {
  return name.replace(/^(Shift\+)?\+$/, "$1Plus").replace(/[a-z]$/, (letter) => (isSign(name) ? letter.toUpperCase() : letter));
}

function hint(button, names) {
  const before = button.title || button.getAttribute("aria-label") || button.textContent.trim();
  const words = before.replace(/ \(keys? [^)]*\)$/, "");
  button.title = `${words} (${names.length > 1 ? "keys" : "key"} ${names.map(said).join(", ")})`;
  button.setAttribute("aria-keyshortcuts", names.map(spoken).join(" "));
}

/**
 * Make a key do something.
 * @param {Binding} binding
 * @returns {() => void} takes it away again
 */
export function register(binding) {
  const own = { ...binding, names: binding.keys.map(spelled) };
  bindings.add(own);
  if (own.button) {
    hint(own.button, own.names);
  }
  return () => bindings.delete(own);
}

function counts(binding, target) {
  return (!binding.within || binding.within.contains(target)) && (!binding.when || binding.when());
}

/** What a key does here: what belongs to the part under the focus goes before what belongs to the page. */
function found(name, target) {
  const fitting = [...bindings].filter((one) => one.names.includes(name) && counts(one, target));
  return fitting.find((one) => one.within) ?? fitting[0] ?? declared().find((one) => one.names.includes(name));
}

function declared() {
  return [...document.querySelectorAll("[data-keys]")]
    .filter((element) => element.getClientRects().length > 0 && !element.disabled)
    .map((element) => ({
      names: element.dataset.keys.split(" ").map(spelled),
      words: element.dataset.keysWords ?? element.textContent.trim(),
      where: element.dataset.keysWhere,
      button: element,
    }));
}

function onKeyDown(event) {
  const name = struck(event);
  if (!name || event.defaultPrevented || event.isComposing || isItsOwn(event.target, name)) {
    return;
  }
  if ((off && isSign(name)) || document.querySelector("dialog[open]")) {
    return;
  }
  const binding = found(name, event.target);
  if (!binding) {
    return;
  }
  event.preventDefault();
  if (event.repeat && !binding.repeats) {
    return;
  }
  if (binding.released) {
    held.set(event.code, binding);
  }
  if (binding.run) {
    binding.run(event);
  } else {
    binding.button?.click();
  }
}

function onKeyUp(event) {
  held.get(event.code)?.released(event);
  held.delete(event.code);
}

// Keys that go up while another window has the focus are never told.
function letGo(event) {
  for (const binding of held.values()) {
    binding.released(event);
  }
  held.clear();
}

/** Keys that a button tells of and that its own script minds. */
function minded() {
  const known = new Set([...bindings].map((one) => one.button));
  return [...document.querySelectorAll("[aria-keyshortcuts]:not([data-keys])")]
    .filter((element) => element.getClientRects().length > 0 && !known.has(element))
    .map((element) => ({
      names: element.getAttribute("aria-keyshortcuts").split(" "),
      words: (element.title || element.textContent.trim()).replace(/ \(keys? [^)]*\)$/, ""),
    }));
}

/** All keys of the page as it is now, by heading. */
function grouped() {
  const groups = new Map();
  for (const one of [...declared(), ...minded(), ...bindings]) {
    const where = one.where || "This page";
    groups.set(where, [...(groups.get(where) ?? []), one]);
  }
  return [...groups].sort(([a], [b]) => Number(a === EVERY_PAGE) - Number(b === EVERY_PAGE));
}

function element(tag, properties = {}, ...children) {
  const made = Object.assign(document.createElement(tag), properties);
  made.append(...children);
  return made;
}

function listOf(rows) {
  const list = element("dl", { className: "key-list" });
  for (const row of rows) {
    const keys = row.names.map((name) => element("kbd", { className: "key" }, said(name)));
    list.append(element("dt", {}, ...keys), element("dd", {}, row.words));
  }
  return list;
}

function offSwitch() {
  const box = element("input", { type: "checkbox", checked: !off });
  box.addEventListener("change", () => remember(!box.checked));
  const words = element("span", {}, "Use keys that are a single letter, figure or sign.");
  return element("div", { className: "check" }, element("label", {}, box, words));
}

/** Open the list of all keys of this page. */
export function showKeys() {
  const dialog = element("dialog", { id: "keys-list" });
  const close = element("button", { className: "button quiet", type: "button", title: "Close (key Esc)" }, "Close");
  close.addEventListener("click", () => dialog.close());
  const heading = element("h2", { id: "keys-head" }, "Keys");
  const body = element("div", { className: "dialog-body" });
  for (const [where, rows] of grouped()) {
    body.append(element("section", { className: "stack close" }, element("h3", {}, where), listOf(rows)));
  }
  body.append(offSwitch());
  dialog.setAttribute("aria-labelledby", heading.id);
  dialog.append(element("div", { className: "dialog-head" }, heading, close), body);
  dialog.addEventListener("click", (event) => event.target === dialog && dialog.close());
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

document.addEventListener("keydown", onKeyDown);
document.addEventListener("keyup", onKeyUp);
window.addEventListener("blur", letGo);
