/** The ruler: two clicks, or Enter twice at the cross in the middle; the server says how far apart they are. */

import { ask } from "/static/desk.js";
import { OneAtATime, query } from "./link.js";

/** Begins with `on`; a third point begins a new measure. */
export class Ruler {
  #first = null;
  #second = null;
  #asking = new OneAtATime();
  #on = false;

  /**
   * @param {string} api
   * @param {import("./ink.js").Ink} ink
   * @param {import("./pointer.js").Readout} readout
   * @param {(sentence: string) => void} say
   */
  constructor(api, ink, readout, say) {
    this.api = api;
    this.ink = ink;
    this.readout = readout;
    this.say = say;
  }

  get on() {
    return this.#on;
  }

  /** Take the ruler up or lay it down; laid down, its line goes. */
  set on(yes) {
    this.#on = yes;
    this.#first = null;
    this.#second = null;
    this.ink.line(null, null);
    if (yes) this.say("Ruler: choose two places.");
  }

  /**
   * Set the next end.
   * @param {{x_um: number, y_um: number}} place
   */
  set(place) {
    if (!this.#first || this.#second) {
      this.#first = place;
      this.#second = null;
      this.ink.line(place, place);
      this.say("First place set; choose the second.");
      return;
    }
    this.#second = place;
    this.#measure(place, true);
  }

  /**
   * Draw the line to where the pointer is, between the first place and the second.
   * @param {{x_um: number, y_um: number}} place
   */
  follow(place) {
    if (this.#first && !this.#second) this.#measure(place, false);
  }

  #measure(to, last) {
    const from = this.#first;
    this.ink.line(from, to);
    const where = { x1_um: from.x_um, y1_um: from.y_um, x2_um: to.x_um, y2_um: to.y_um };
    this.#asking.ask(() => ask(`${this.api}/ruler${query(where)}`), ({ words }) => {
      if (this.#first !== from || (this.#second ?? to) !== to) return;
      this.ink.line(from, to, words.map(([name, value]) => (name === "distance" ? value : `${name} ${value}`)).join(" · "));
      if (!last) return;
      this.readout.show(words, "By the ruler");
      this.say(this.readout.sentence);
    }, (trouble) => this.say(trouble.message));
  }
}
