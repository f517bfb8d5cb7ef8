/**
 * The strip: which stretch of the side is shown, the hand that points, zooms and pans over all panels at once, and the
 * lines that tie it to the map.
 */

import { ask } from "/static/desk.js";
import { draw } from "./ink.js";
import { LEFT_PX, Panels, RIGHT_PX } from "./panels.js";
import { OneAtATime, query, whenQuiet } from "./link.js";

/** Shortest stretch that is shown, s. */
const SHORTEST_S = 0.02;
/** A drag shorter than this is a click, px. */
const CLICK_PX = 4;
const QUIET_MS = 140;
const ZOOM = 2;

/** Events: `stretch` when another part of the side is shown. */
export class Strip extends EventTarget {
  #asking = new OneAtATime();
  #lines = {};
  #at_s = 0;
  #drag = null;

  /**
   * @param {string} api
   * @param {HTMLElement} box  Holds the panels, the hand and the tools.
   * @param {object} facts  What `/map` answered.
   * @param {{pointed: (at_s: number|null) => void, chosen: (at_s: number) => void}} tell
   */
  constructor(api, box, facts, tell) {
    super();
    Object.assign(this, { api, box, facts, tell });
    this.hand = box.querySelector("#strip-hand");
    this.said = box.querySelector("#strip-said");
    this.panels = new Panels(box.querySelector("#strip-panels"), facts.bands);
    for (const name of ["view", "clip", "select", "hover", "spot", "head"]) this.#lines[name] = this.#mark(name);
    this.#bands();
    this.#findings();
    this.hand.setAttribute("aria-valuemin", facts.start_s.toFixed(3));
    this.hand.setAttribute("aria-valuemax", facts.end_s.toFixed(3));
    this.load = whenQuiet(() => this.#load(), QUIET_MS);
    this.#listen();
    this.from_s = facts.start_s;
    this.to_s = facts.end_s;
    this.#place();
    this.#load();
  }

  /** Show a stretch, kept within the side. */
  show(from_s, to_s) {
    const { start_s, end_s } = this.facts;
    const long = Math.min(Math.max(to_s - from_s, SHORTEST_S), end_s - start_s);
    this.from_s = Math.min(Math.max(from_s, start_s), end_s - long);
    this.to_s = this.from_s + long;
    if (this.panels.answer) this.panels.stretch(this.from_s, this.to_s);
    this.#place();
    this.load();
    this.dispatchEvent(new Event("stretch"));
  }

  /** Whether all of the side is shown. */
  get whole() {
    return this.to_s - this.from_s >= this.facts.end_s - this.facts.start_s - 1e-6;
  }

  /** Zoom about a moment; without one about the chosen moment, or the middle. */
  zoom(factor, about_s) {
    const fixed = about_s ?? (this.#at_s >= this.from_s && this.#at_s <= this.to_s ? this.#at_s : (this.from_s + this.to_s) / 2);
    const long = (this.to_s - this.from_s) / factor;
    const share = (fixed - this.from_s) / (this.to_s - this.from_s);
    this.show(fixed - share * long, fixed + (1 - share) * long);
  }

  /** Move by a part of what is shown. */
  pan(part) {
    const by = part * (this.to_s - this.from_s);
    this.show(this.from_s + by, this.to_s + by);
  }

  /** Show all of the side. */
  all() {
    this.show(this.facts.start_s, this.facts.end_s);
  }

  /** Put the lasting line at a moment and bring it into view. */
  choose(at_s, words) {
    this.#at_s = at_s;
    this.hand.setAttribute("aria-valuenow", at_s.toFixed(3));
    if (words) this.hand.setAttribute("aria-valuetext", words.map(([name, value]) => `${name} ${value}`).join(", "));
    if (at_s < this.from_s || at_s > this.to_s) {
      const half = (this.to_s - this.from_s) / 2;
      this.show(at_s - half, at_s + half);
    }
    this.#line("spot", at_s);
  }

  /** Put the passing line at a moment, or take it away. */
  point(at_s) {
    this.#line("hover", at_s);
  }

  /** Mark what the map shows. */
  view(from_s, to_s) {
    this.#line("view", from_s, to_s);
  }

  /** Mark the clip and where in it the sound is. */
  heard(from_s, to_s, at_s) {
    this.#line("clip", from_s, to_s);
    this.#line("head", at_s);
  }

  async #load() {
    const points = Math.min(4000, Math.round(2 * this.panels.wide_px));
    const [from_s, to_s] = [this.from_s, this.to_s];
    const asked = () => ask(`${this.api}/strip${query({ from_s, to_s, points })}`);
    this.#asking.ask(asked, (answer) => {
      this.said.textContent = "";
      this.panels.show(answer, this.from_s, this.to_s);
      this.box.dataset.fromS = from_s.toFixed(3);
      this.box.dataset.toS = to_s.toFixed(3);
    }, (trouble) => {
      this.said.textContent = trouble.message;
    });
  }

  // Lines over the panels -------------------------------------------------------------------------------------

  #mark(name) {
    const line = document.createElement("div");
    line.className = `strip-line strip-${name}`;
    line.hidden = true;
    this.hand.append(line);
    line.span = [null, null];
    return line;
  }

  #line(name, from_s, to_s = from_s) {
    const line = this.#lines[name];
    line.span = [from_s ?? null, to_s ?? null];
    this.#put(line);
  }

  #put(line) {
    const [from_s, to_s] = line.span;
    line.hidden = from_s === null || to_s < this.from_s || from_s > this.to_s;
    if (line.hidden) return;
    const left = Math.max(0, this.#x(from_s));
    line.style.left = `${left}px`;
    line.style.width = to_s > from_s ? `${Math.max(2, Math.min(this.#x(to_s), this.panels.wide_px) - left)}px` : "";
  }

  #place() {
    for (const line of this.hand.children) this.#put(line);
  }

  #bands() {
    for (const band of this.facts.bands) {
      const name = this.#mark("band");
      name.span = [band.start_s, band.end_s];
      name.textContent = `${band.number} ${band.name}`;
    }
  }

  #findings() {
    for (const mark of this.facts.marks) {
      const tick = this.#mark(`finding ${mark.severity}`);
      tick.span = [mark.time_s, mark.time_s];
      const svg = draw("svg", { class: "shape" }, tick);
      draw("use", { href: `/static/shapes.svg#${mark.severity}` }, svg);
      tick.append(String(mark.number));
    }
  }

  #x(at_s) {
    return ((at_s - this.from_s) / (this.to_s - this.from_s)) * this.panels.wide_px;
  }

  #time(x) {
    const at_s = this.from_s + (x / this.panels.wide_px) * (this.to_s - this.from_s);
    return Math.min(Math.max(at_s, this.from_s), this.to_s);
  }

  // The hand ----------------------------------------------------------------------------------------------------

  #listen() {
    const { hand } = this;
    hand.style.left = `${LEFT_PX}px`;
    hand.style.right = `${RIGHT_PX}px`;
    const at = (event) => event.clientX - hand.getBoundingClientRect().left;
    hand.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      hand.setPointerCapture(event.pointerId);
      this.#drag = { x: at(event), pan: event.shiftKey || event.pointerType === "touch", from_s: this.from_s, moved: false };
    });
    hand.addEventListener("pointermove", (event) => {
      if (this.#drag) this.#dragged(at(event));
      else this.#hover(this.#time(at(event)));
    });
    hand.addEventListener("pointerup", (event) => this.#dropped(at(event)));
    hand.addEventListener("pointercancel", () => this.#dropped(null));
    hand.addEventListener("pointerleave", () => this.#hover(null));
    hand.addEventListener("wheel", (event) => {
      if (event.ctrlKey) return;
      event.preventDefault();
      if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) this.pan((event.deltaX || event.deltaY) / 800);
      else this.zoom(2 ** (-event.deltaY / 240), this.#time(at(event)));
    }, { passive: false });
    for (const button of this.box.querySelectorAll("[data-strip]")) {
      button.addEventListener("click", () => this.act(button.dataset.strip));
    }
    new ResizeObserver(() => this.#resized()).observe(this.panels.parent);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.panels.recolour());
  }

  /** What the tools and their keys do. */
  act(name) {
    if (name === "in") this.zoom(ZOOM);
    if (name === "out") this.zoom(1 / ZOOM);
    if (name === "whole") this.all();
    if (name === "earlier") this.pan(-0.25);
    if (name === "later") this.pan(0.25);
  }

  /** Move the lasting line by a part of what is shown, as by key. */
  step(part) {
    const { start_s, end_s } = this.facts;
    return Math.min(Math.max(this.#at_s + part * (this.to_s - this.from_s), start_s), end_s);
  }

  #hover(at_s) {
    this.point(at_s);
    this.tell.pointed(at_s);
  }

  #dragged(x) {
    const drag = this.#drag;
    drag.moved ||= Math.abs(x - drag.x) > CLICK_PX;
    if (!drag.moved) return;
    const long = this.to_s - this.from_s;
    if (drag.pan) {
      const from_s = drag.from_s - ((x - drag.x) / this.panels.wide_px) * long;
      this.show(from_s, from_s + long);
    } else {
      const [a, b] = [this.#time(drag.x), this.#time(x)];
      this.#line("select", Math.min(a, b), Math.max(a, b));
    }
  }

  #dropped(x) {
    const drag = this.#drag;
    this.#drag = null;
    this.#line("select", null);
    if (!drag || x === null) return;
    if (!drag.moved) this.tell.chosen(this.#time(x));
    else if (!drag.pan) {
      const [a, b] = [this.#time(drag.x), this.#time(x)];
      this.show(Math.min(a, b), Math.max(a, b));
    }
  }

  #resized() {
    if (!this.panels.answer) return;
    this.panels.size();
    this.#place();
    this.load();
  }
}
