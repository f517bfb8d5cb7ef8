/** The disc map of a page of faults, with its tools and keys; nothing where the folder has no plan. */

import { ask, say, trouble } from "/static/desk.js";
import { register } from "/static/keys.js";
import { DiscMap } from "/static/side/map.js";
import { Ink } from "/static/side/ink.js";
import { scaleBar } from "/static/side/scale.js";
import { Face } from "./face.js";

/** Width of the view that shows a fault: a few turns. */
const NEAR_UM = 6000;
const PAN = 0.15;
const ZOOM = 1.6;
const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const find = (selector) => document.querySelector(selector);
const tool = (name) => find(`[data-act=${name}]`);

/**
 * The map, once the server has told what it needs.
 * @param {HTMLElement} bench
 * @param {import("./face.js").FaceMark[]} marks
 * @param {import("./rows.js").Rows} rows
 * @returns {Promise<Stage|null>}
 */
export async function stage(bench, marks, rows) {
  keysOfRows(rows);
  if (!find("#map-picture")) return null;
  try {
    const facts = await ask(`/api/plans/${bench.dataset.plan}/map`);
    return new Stage(bench, facts, marks, rows);
  } catch (error) {
    trouble(error.message);
    return null;
  }
}

class Stage {
  constructor(bench, facts, marks, rows) {
    this.map = new DiscMap(find("#map-picture"), bench.dataset.plan, facts, "vinyl");
    this.ink = new Ink(find("#map-picture"), this.map);
    this.face = new Face(this.map, marks, (number) => rows.number(number));
    scaleBar(this.map, find("#scale-bar"), bench.dataset.units);
    this.#tools(rows);
    this.map.addEventListener("ready", () => (bench.dataset.ready = "yes"));
  }

  /** Show a fault, with so much round it that its neighbours are seen. */
  go(row) {
    const [x_um, y_um] = [Number(row.dataset.xUm), Number(row.dataset.yUm)];
    this.face.current = Number(row.dataset.number);
    this.ink.ring("chosen", { x_um, y_um });
    if (!this.map.shows(x_um, y_um)) this.map.go(x_um, y_um, Math.max(NEAR_UM, this.map.view().wide_um));
  }

  #marksShown(shown) {
    this.face.hidden = !shown;
    tool("marks").setAttribute("aria-pressed", String(shown));
  }

  #tools(rows) {
    const { map } = this;
    const acts = {
      "zoom-in": () => map.zoom(2),
      "zoom-out": () => map.zoom(0.5),
      whole: () => map.whole(),
      before: () => rows.beside(-1),
      next: () => rows.beside(1),
      marks: () => this.#marksShown(this.face.hidden),
    };
    for (const [name, act] of Object.entries(acts)) tool(name).addEventListener("click", act);
    const key = (keys, words, rest) => register({ keys, words, where: "disc map", ...rest });
    key(Object.keys(WAYS), "move the view", {
      within: map.element, repeats: true, run: (event) => map.pan(PAN * WAYS[event.key][0], PAN * WAYS[event.key][1]),
    });
    key(["+", "="], "nearer", { button: tool("zoom-in"), repeats: true, run: () => map.zoom(ZOOM) });
    key(["-"], "farther", { button: tool("zoom-out"), repeats: true, run: () => map.zoom(1 / ZOOM) });
    key(["0"], "whole disc", { button: tool("whole"), run: () => map.whole() });
    key(["m"], "marks on or off", { button: tool("marks") });
    key(["d"], "to the disc map", { run: () => map.element.focus() });
    map.element.addEventListener("pointerdown", () => map.element.focus({ preventScroll: true }));
  }
}

function keysOfRows(rows) {
  const key = (keys, words, step) =>
    register({ keys, words, where: "faults", repeats: true, button: tool(step > 0 ? "next" : "before") ?? undefined, run: () => rows.beside(step) });
  key(["n"], "next fault", 1);
  key(["Shift+n"], "fault before", -1);
}

/** What a row says, for a mark's hint and for those who listen. */
export const words = (row) => [...row.cells].map((cell) => cell.textContent.trim()).filter(Boolean).join(", ");

/** Say it to those who listen, and on the map. */
export function tell(sentence) {
  const said = find("#map-said");
  if (said) said.textContent = sentence;
  say(sentence);
}
