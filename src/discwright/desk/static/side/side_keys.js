/** The keys of the side page. Each repeats what a button or the pointer does; each stands in its button's hint. */

import { register } from "/static/keys.js";

const MAP = "disc map";
const STRIP = "strip";
const LISTEN = "listen";
/** Part of the picture that an arrow moves by, and how much a sign zooms. */
const PAN = 0.15;
const ZOOM = 1.6;
/** Part of the strip that an arrow moves by. */
const STEP = 0.005;

const find = (selector) => document.querySelector(selector);

/** @param {object} side  The page; see side.js. */
export function keys(side) {
  mapKeys(side);
  stripKeys(side);
  if (side.listen) listenKeys(side.listen);
  const form = find("#what-if-form");
  register({ keys: ["w"], words: "what if", where: "this page", run: () => {
    form.scrollIntoView({ block: "start" });
    form.querySelector("input, select").focus({ preventScroll: true });
  } });
}

function mapKeys(side) {
  const { map } = side;
  const picture = map.element;
  const tool = (name) => find(`[data-act=${name}]`);
  const key = (names, words, rest) => register({ keys: names, words, where: MAP, ...rest });
  // Whoever moves by key hears where the view went.
  const moved = (move) => () => {
    side.byKey = true;
    move();
  };
  picture.addEventListener("pointerdown", () => {
    side.byKey = false;
    picture.focus({ preventScroll: true });
  });
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const pan = (part) => (event) => {
    side.byKey = true;
    const [right, down] = ways[event.key];
    map.pan(part * right, part * down);
  };
  key(Object.keys(ways), "move the view", { within: picture, repeats: true, run: pan(PAN) });
  key(Object.keys(ways).map((name) => `Shift+${name}`), "move it by all its width or height", {
    within: picture, repeats: true, run: pan(1),
  });
  key(["+", "="], "nearer", { button: tool("zoom-in"), repeats: true, run: moved(() => map.zoom(ZOOM)) });
  key(["-"], "farther", { button: tool("zoom-out"), repeats: true, run: moved(() => map.zoom(1 / ZOOM)) });
  key(["0"], "whole disc", { button: tool("whole"), run: moved(() => map.whole()) });
  key(["n"], "next finding", { button: tool("finding") });
  key(["Shift+n"], "finding before", { run: () => side.besideFinding(-1) });
  key(["r"], "ruler: then choose two places", { button: tool("ruler") });
  key(["b"], "bookmarks", { button: tool("bookmarks") });
  key(["f"], "full screen", { button: tool("full") });
  key(["Shift+m"], "findings on or off", { button: tool("marks") });
  key(["m"], "hold to lift the findings off the map", {
    run: () => (side.marks.lifted = true),
    released: () => (side.marks.lifted = false),
  });
  const layer = find("#layer");
  key(["l"], "next shading", { button: layer, run: () => side.tell(`Shaded by ${side.layers.next()}.`) });
  key(["c"], "read what is in the middle of the view", { run: () => side.readMiddle() });
  key(["Enter"], "choose what is in the middle of the view", { within: picture, run: () => side.place(map.view()) });
  key(["Escape"], "lay the ruler down", { when: () => side.ruler.on, run: () => side.setRuler(false) });
  key(["d"], "to the disc map", { run: () => picture.focus() });
}

function stripKeys(side) {
  const { strip } = side;
  const { hand } = strip;
  const tool = (name) => strip.box.querySelector(`[data-strip=${name}]`);
  const to = (at_s) => side.choose(at_s, "strip key");
  const own = new Map();
  // The strip is a slider, whose arrows belong to it: they are listed with the others and answered here.
  const key = (names, words, run) => {
    for (const name of names) own.set(name, run);
    register({ keys: names, words, where: STRIP, within: hand, repeats: true, run });
  };
  key(["ArrowLeft"], "earlier", () => to(strip.step(-STEP)));
  key(["ArrowRight"], "later", () => to(strip.step(STEP)));
  key(["Home"], "beginning", () => to(strip.facts.start_s));
  key(["End"], "end", () => to(strip.facts.end_s));
  hand.addEventListener("keydown", (event) => {
    const run = event.shiftKey || event.ctrlKey || event.altKey || event.metaKey ? null : own.get(event.key);
    if (!run) return;
    event.preventDefault();
    run();
  });
  const act = (names, words, name) =>
    register({ keys: names, words, where: STRIP, within: hand, repeats: true, button: tool(name), run: () => strip.act(name) });
  act(["+", "="], "closer on the strip", "in");
  act(["-"], "more of the strip", "out");
  act(["0"], "whole side", "whole");
  register({ keys: ["["], words: "strip earlier", where: STRIP, repeats: true, button: tool("earlier") });
  register({ keys: ["]"], words: "strip later", where: STRIP, repeats: true, button: tool("later") });
  register({ keys: ["s"], words: "to the strip", where: STRIP, run: () => hand.focus() });
}

function listenKeys(listen) {
  const part = (name) => listen.parts[name];
  const key = (names, words, rest) => register({ keys: names, words, where: LISTEN, ...rest });
  key(["p"], "hear the spot, or stop", { button: part("play"), run: () => listen.playOrStop() });
  key([","], "from two seconds before", { button: part("before") });
  key(["o"], "loop", { button: part("loop") });
  key(["k"], "blind", { button: part("blind") });
  for (const [k, button] of listen.versions.entries()) {
    const name = button.dataset.versionChoice;
    key([String(k + 1)], name, { button, when: () => !listen.blind.on, run: () => listen.version(name) });
  }
  const blind = () => listen.blind.on;
  for (const letter of ["X", "Y"]) {
    const small = letter.toLowerCase();
    key([small], `blind: hear ${letter}`, { button: listen.box.querySelector(`[data-letter=${letter}]`), when: blind });
    key([`Shift+${small}`], `blind: ${letter} is the programme`, {
      button: listen.box.querySelector(`[data-answer=${letter}]`), when: blind,
    });
  }
  key(["v"], "blind: reveal", { button: part("reveal"), when: blind });
}
