/**
 * Findings on the map: a shape for the severity with the finding's number, and its word beside it. Each is a button.
 */

import { draw } from "./ink.js";

/** Least size of a mark on the screen, px. */
const SIZE_PX = 28;
const SHAPES = {
  stop: { d: "M8.2 1h9.6L25 8.2v9.6L17.8 25H8.2L1 17.8V8.2Z", word: "stop" },
  warn: { d: "M13 1.5 25.5 24H.5Z", word: "warning" },
  note: { d: "M13 1a12 12 0 1 0 0 24a12 12 0 1 0 0-24Z", word: "note" },
};
/** Where words may stand beside their shape, in order of preference. */
const PLACES = ["right", "left", "above", "below"];
/** Those that matter most keep their words where there is not room for all. */
const RANK = { stop: 0, warn: 1, note: 2 };

/** The buttons over the picture. */
export class Marks {
  #buttons = new Map();
  #lifted = false;
  #hidden = false;
  #current = null;

  /**
   * @param {HTMLElement} parent
   * @param {import("./map.js").DiscMap} map
   * @param {(number: number) => void} chosen
   */
  constructor(parent, map, chosen) {
    this.parent = parent;
    this.map = map;
    this.marks = [...map.facts.marks].sort((a, b) => RANK[a.severity] - RANK[b.severity] || a.number - b.number);
    for (const mark of this.marks) this.#buttons.set(mark.number, this.#button(mark, chosen));
    parent.append(...this.#buttons.values());
    // A wheel over a mark is meant for the disc under it.
    parent.addEventListener("wheel", (event) => {
      event.preventDefault();
      map.viewer.canvas.dispatchEvent(new WheelEvent("wheel", event));
    }, { passive: false });
    map.addEventListener("moved", () => this.draw());
    map.addEventListener("ready", () => this.draw());
  }

  #button(mark, chosen) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = `map-mark ${mark.severity}`;
    button.dataset.number = String(mark.number);
    const shape = SHAPES[mark.severity];
    button.title = `Finding ${mark.number}: ${mark.code}, ${shape.word}. ${mark.words}`;
    button.setAttribute("aria-label", `${mark.number} ${mark.code}, ${shape.word}`);
    const svg = draw("svg", { viewBox: "0 0 26 26", width: SIZE_PX - 2, height: SIZE_PX - 2, "aria-hidden": "true" });
    draw("path", { d: shape.d }, svg);
    const number = draw("text", { x: 13, y: mark.severity === "warn" ? 21 : 17.5, "text-anchor": "middle" }, svg);
    number.textContent = String(mark.number);
    const words = document.createElement("span");
    words.className = "map-mark-words";
    words.textContent = mark.code;
    button.append(svg, words);
    button.addEventListener("click", () => chosen(mark.number));
    return button;
  }

  /** The finding with a number, as the server told it. */
  of(number) {
    return this.marks.find((mark) => mark.number === number);
  }

  /** Show which finding is chosen. */
  set current(number) {
    this.#current = number;
    for (const [own, button] of this.#buttons) button.classList.toggle("current", own === number);
    this.draw();
  }

  get current() {
    return this.#current;
  }

  /** Lift the marks off the picture while a key is held. */
  set lifted(yes) {
    this.#lifted = yes;
    this.#show();
  }

  /** Leave them off. */
  set hidden(yes) {
    this.#hidden = yes;
    this.#show();
  }

  get hidden() {
    return this.#hidden;
  }

  #show() {
    this.parent.hidden = this.#lifted || this.#hidden;
    this.draw();
  }

  /** Put every mark where its place now is, and its words where they cover no other. */
  draw() {
    if (this.parent.hidden) return;
    const taken = [];
    for (const mark of this.marks) {
      const button = this.#buttons.get(mark.number);
      const { x, y } = this.map.pointOf(mark.x_um, mark.y_um);
      const seen = x > -8 && y > -8 && x < this.map.width_px + 8 && y < this.map.height_px + 8;
      button.hidden = !seen;
      if (!seen) continue;
      button.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
      taken.push(box(x, y, SIZE_PX, SIZE_PX));
    }
    for (const mark of this.marks) {
      const button = this.#buttons.get(mark.number);
      if (!button.hidden) this.#letter(mark, button, taken);
    }
  }

  #letter(mark, button, taken) {
    const { x, y } = this.map.pointOf(mark.x_um, mark.y_um);
    const words = button.lastElementChild;
    // Measured once: the words never change, only where they stand.
    button.wordsWide ??= words.offsetWidth || 9 * mark.code.length;
    const wide = button.wordsWide;
    const free = PLACES.find((place) => {
      const wanted = wordsBox(place, x, y, wide);
      return inside(wanted, this.map) && !taken.some((other) => crosses(wanted, other));
    });
    button.dataset.words = free ?? (mark.number === this.#current ? "right" : "none");
    if (free) taken.push(wordsBox(free, x, y, wide));
  }
}

const HIGH_PX = 22;

function box(x, y, wide, high) {
  return { left: x - wide / 2, right: x + wide / 2, top: y - high / 2, bottom: y + high / 2 };
}

function wordsBox(place, x, y, wide) {
  const beside = (SIZE_PX + wide) / 2 + 2;
  const over = (SIZE_PX + HIGH_PX) / 2;
  const shift = { right: [beside, 0], left: [-beside, 0], above: [0, -over], below: [0, over] }[place];
  return box(x + shift[0], y + shift[1], wide, HIGH_PX);
}

const crosses = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

const inside = (a, map) => a.left > 4 && a.top > 4 && a.right < map.width_px - 4 && a.bottom < map.height_px - 4;
