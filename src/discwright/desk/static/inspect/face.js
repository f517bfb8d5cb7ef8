/** The marks of faults over the disc map: a shape for each, which is chosen by pressing it. */

import { draw } from "/static/side/ink.js";

const SIZE_PX = 16;

/**
 * @typedef {object} FaceMark
 * @property {number} number  Of the row it belongs to.
 * @property {string} shape   Name of its shape.
 * @property {number} x_um
 * @property {number} y_um
 * @property {string} words   What it is, for its hint.
 * @property {boolean} heard
 */

/** The drawing over the picture. */
export class Face {
  #marks = [];
  #shown = () => true;
  #current = 0;
  #hidden = false;

  /**
   * @param {import("/static/side/map.js").DiscMap} map
   * @param {FaceMark[]} marks
   * @param {(number: number) => void} chosen
   */
  constructor(map, marks, chosen) {
    this.map = map;
    this.svg = draw("svg", { class: "face-marks", "aria-hidden": "true" }, map.element);
    this.#marks = marks.map((mark) => ({ ...mark, element: this.#element(mark, chosen) }));
    // A wheel over a mark is meant for the disc under it; a press is not.
    this.svg.addEventListener("wheel", (event) => {
      event.preventDefault();
      map.viewer.canvas.dispatchEvent(new WheelEvent("wheel", event));
    }, { passive: false });
    map.addEventListener("moved", () => this.draw());
    map.addEventListener("ready", () => this.draw());
  }

  #element(mark, chosen) {
    const group = draw("g", { class: `face-mark${mark.heard ? " heard" : ""}`, "data-number": mark.number }, this.svg);
    draw("title", {}, group).textContent = mark.words;
    draw("rect", { class: "ground", x: -11, y: -11, width: 22, height: 22 }, group);
    const use = { href: `/static/shapes.svg#${mark.shape}`, x: -SIZE_PX / 2, y: -SIZE_PX / 2, width: SIZE_PX, height: SIZE_PX };
    draw("use", use, group);
    group.addEventListener("pointerdown", (event) => event.stopPropagation());
    group.addEventListener("click", (event) => {
      event.stopPropagation();
      chosen(mark.number);
    });
    return group;
  }

  /** Show only some. @param {(mark: FaceMark) => boolean} shown */
  filter(shown) {
    this.#shown = shown;
    this.draw();
  }

  /** Which row is chosen: its marks lie above all others. */
  set current(number) {
    this.#current = number;
    for (const mark of this.#marks) {
      const own = mark.number === number;
      mark.element.classList.toggle("current", own);
      if (own) this.svg.append(mark.element);
    }
    this.draw();
  }

  set hidden(yes) {
    this.#hidden = yes;
    this.draw();
  }

  get hidden() {
    return this.#hidden;
  }

  /** Put every mark where its place now is. */
  draw() {
    const { width_px: wide, height_px: high } = this.map;
    this.svg.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    this.svg.style.display = this.#hidden ? "none" : "";
    if (this.#hidden) return;
    for (const mark of this.#marks) {
      const { x, y } = this.map.pointOf(mark.x_um, mark.y_um);
      const seen = x > -12 && y > -12 && x < wide + 12 && y < high + 12;
      const shown = seen && (mark.number === this.#current || this.#shown(mark));
      mark.element.style.display = shown ? "" : "none";
      if (shown) mark.element.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    }
  }
}
