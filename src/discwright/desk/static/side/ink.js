/**
 * What is drawn over the disc in lines: its ground outside the rim, the cross in the middle, the chosen spot, the spot
 * that is pointed at, the spot that is heard, and the ruler.
 */

const SVG = "http://www.w3.org/2000/svg";
/** A circle larger than this on the screen is drawn as a short polygon near the view. */
const ROUND_PX = 4000;
const CORNERS = 96;

/**
 * An element of a drawing.
 * @param {string} name
 * @param {Record<string, string|number>} [attributes]
 * @param {Element} [parent]
 */
export function draw(name, attributes = {}, parent) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  parent?.append(element);
  return element;
}

/** The drawing that lies over the picture. */
export class Ink {
  /** @type {Record<string, {x_um: number, y_um: number}|null>} */
  #spots = { chosen: null, pointed: null, heard: null };
  /** @type {[{x_um: number, y_um: number}, {x_um: number, y_um: number}]|null} */
  #line = null;
  #lineWords = "";

  /**
   * @param {HTMLElement} parent
   * @param {import("./map.js").DiscMap} map
   */
  constructor(parent, map) {
    this.map = map;
    this.svg = draw("svg", { class: "map-ink", "aria-hidden": "true" }, parent);
    this.ground = draw("path", { class: "ink-ground", "fill-rule": "evenodd" }, this.svg);
    this.ruler = draw("g", { class: "ink-ruler" }, this.svg);
    this.marks = {
      chosen: this.#ring("ink-chosen", 11),
      pointed: this.#ring("ink-pointed", 6),
      heard: this.#ring("ink-heard", 8),
    };
    this.cross = draw("path", { class: "ink-cross" }, this.svg);
    map.addEventListener("moved", () => this.draw());
    map.addEventListener("ready", () => this.draw());
  }

  #ring(name, radius) {
    const group = draw("g", { class: `ink-ring ${name}` }, this.svg);
    draw("circle", { class: "under", r: radius }, group);
    draw("circle", { class: "over", r: radius }, group);
    return group;
  }

  /**
   * Put a ring somewhere, or take it away.
   * @param {"chosen"|"pointed"|"heard"} name
   * @param {{x_um: number, y_um: number}|null} place
   */
  ring(name, place) {
    this.#spots[name] = place && Number.isFinite(place.x_um) ? place : null;
    this.#drawRing(name);
  }

  /** Show a line of the ruler with its words, or none. */
  line(from, to, words) {
    this.#line = from && to ? [from, to] : null;
    this.#lineWords = words || "";
    this.#drawLine();
  }

  /** Everything once more, where the view now is. */
  draw() {
    const { width_px: wide, height_px: high } = this.map;
    this.svg.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    this.cross.setAttribute("d", `M${wide / 2 - 14} ${high / 2}h28M${wide / 2} ${high / 2 - 14}v28`);
    this.ground.setAttribute("d", this.#groundPath(wide, high));
    for (const name of Object.keys(this.marks)) this.#drawRing(name);
    this.#drawLine();
  }

  #drawRing(name) {
    const place = this.#spots[name];
    const mark = this.marks[name];
    if (!place) {
      mark.setAttribute("visibility", "hidden");
      return;
    }
    const { x, y } = this.map.pointOf(place.x_um, place.y_um);
    const near = Math.abs(x) < 1e5 && Math.abs(y) < 1e5;
    mark.setAttribute("visibility", near ? "visible" : "hidden");
    if (near) mark.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
  }

  #drawLine() {
    this.ruler.replaceChildren();
    if (!this.#line) return;
    const [a, b] = this.#line.map(({ x_um, y_um }) => this.map.pointOf(x_um, y_um));
    const clamp = (v) => Math.max(-1e5, Math.min(1e5, v));
    const [x1, y1, x2, y2] = [a.x, a.y, b.x, b.y].map(clamp);
    for (const layer of ["under", "over"]) {
      draw("path", { class: layer, d: `M${x1} ${y1}L${x2} ${y2}${end(x1, y1, x2, y2)}${end(x2, y2, x1, y1)}` }, this.ruler);
    }
    if (!this.#lineWords) return;
    const text = draw("text", { x: (x1 + x2) / 2, y: (y1 + y2) / 2 - 10, "text-anchor": "middle" }, this.ruler);
    text.textContent = this.#lineWords;
  }

  /** All of the view that lies outside the rim, or in the hole. */
  #groundPath(wide, high) {
    const frame = `M-2 -2H${wide + 2}V${high + 2}H-2Z`;
    const hole = this.map.facts.hole_um ? this.#circle(this.map.facts.hole_um) : "";
    return frame + this.#circle(this.map.facts.rim_um) + hole;
  }

  #circle(radius_um) {
    const radius = radius_um / this.map.scale_um;
    const { x, y } = this.map.pointOf(0, 0);
    if (radius < ROUND_PX) {
      return `M${x - radius} ${y}a${radius} ${radius} 0 1 0 ${2 * radius} 0a${radius} ${radius} 0 1 0 ${-2 * radius} 0Z`;
    }
    return this.#nearArc(x, y, radius);
  }

  /** The part of a huge circle near the view, closed through its far inside. */
  #nearArc(x, y, radius) {
    const { width_px: wide, height_px: high } = this.map;
    const away = Math.hypot(wide / 2 - x, high / 2 - y);
    const reach = Math.hypot(wide, high);
    const towards = Math.atan2(high / 2 - y, wide / 2 - x);
    if (away < radius - reach) return `M-2 -2H${wide + 2}V${high + 2}H-2Z`;
    if (away > radius + reach) return "";
    const half = Math.min(Math.PI, (3 * reach) / radius);
    let path = "";
    for (let corner = 0; corner <= CORNERS; corner += 1) {
      const angle = towards + half * ((2 * corner) / CORNERS - 1);
      path += `${corner ? "L" : "M"}${x + radius * Math.cos(angle)} ${y + radius * Math.sin(angle)}`;
    }
    const inside = radius - 4 * reach;
    return `${path}L${x + inside * Math.cos(towards + half)} ${y + inside * Math.sin(towards + half)}L${
      x + inside * Math.cos(towards - half)} ${y + inside * Math.sin(towards - half)}Z`;
  }
}

/** A short stroke across the end of a line. */
function end(x1, y1, x2, y2) {
  const long = Math.hypot(x2 - x1, y2 - y1) || 1;
  const [across, up] = [(-(y2 - y1) / long) * 8, ((x2 - x1) / long) * 8];
  return `M${x1 - across} ${y1 - up}L${x1 + across} ${y1 + up}`;
}
