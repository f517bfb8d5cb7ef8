/** What stands under the pointer, at the chosen spot or in the middle of the view, in the person's units. */

import { ask } from "/static/desk.js";
import { OneAtATime, query } from "./link.js";

/** The line of values under the map. */
export class Readout {
  #places = new OneAtATime();
  #times = new OneAtATime();

  /**
   * @param {string} api  Address of the plan.
   * @param {HTMLElement} heading
   * @param {HTMLElement} list
   */
  constructor(api, heading, list) {
    this.api = api;
    this.heading = heading;
    this.list = list;
  }

  /**
   * Ask what is at a place and show it.
   * @param {{x_um: number, y_um: number}} place
   * @param {string} at  "At the pointer", "At the spot", "In the middle".
   * @param {(answer: object) => void} [answered]
   */
  place(place, at, answered = () => {}) {
    this.#places.ask(() => this.look(place), (answer) => {
      this.show(answer.words, at);
      answered({ ...answer, ...place });
    });
  }

  /**
   * The same as a promise, past the queue: for a click, which is never dropped.
   * @param {{x_um: number, y_um: number}} place
   */
  look({ x_um, y_um }) {
    return ask(`${this.api}/place${query({ x_um: x_um.toFixed(3), y_um: y_um.toFixed(3) })}`);
  }

  /**
   * Ask where a moment lies and show it.
   * @param {number} at_s
   * @param {string} at
   * @param {(answer: object) => void} [answered]
   */
  time(at_s, at, answered = () => {}) {
    this.#times.ask(() => this.when(at_s), (answer) => {
      this.show(answer.words, at);
      answered(answer);
    });
  }

  /** @param {number} at_s */
  when(at_s) {
    return ask(`${this.api}/time${query({ at_s: at_s.toFixed(6) })}`);
  }

  /** Forget what was asked but not answered. */
  drop() {
    this.#places.drop();
    this.#times.drop();
  }

  /**
   * Show names and values.
   * @param {[string, string][]} words
   * @param {string} at
   */
  show(words, at) {
    this.heading.textContent = at;
    while (this.list.children.length > words.length) this.list.lastElementChild.remove();
    words.forEach(([name, value], k) => {
      const pair = this.list.children[k] ?? this.#pair();
      if (pair.firstChild.textContent !== name) pair.firstChild.textContent = name;
      pair.lastChild.textContent = value;
    });
  }

  #pair() {
    const pair = document.createElement("div");
    pair.append(document.createElement("dt"), document.createElement("dd"));
    this.list.append(pair);
    return pair;
  }

  /** The same as a sentence, to be spoken. */
  get sentence() {
    const pairs = [...this.list.children].map((pair) => `${pair.firstChild.textContent} ${pair.lastChild.textContent}`);
    return `${this.heading.textContent}: ${pairs.join(", ")}.`;
  }
}

/**
 * Follow the pointer over the picture.
 * @param {import("./map.js").DiscMap} map
 * @param {Readout} readout
 * @param {import("./link.js").Link} link
 */
export function followPointer(map, readout, link) {
  const box = map.element;
  box.addEventListener("pointermove", (event) => {
    if (event.pointerType === "touch") return;
    const { left, top } = box.getBoundingClientRect();
    const place = map.placeAt(event.clientX - left, event.clientY - top);
    readout.place(place, "At the pointer", (answer) => link.point(answer.time_s === null ? null : answer, "map"));
  });
  box.addEventListener("pointerleave", () => {
    readout.drop();
    link.point(null, "map");
  });
}
