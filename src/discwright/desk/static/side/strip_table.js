/** The strip as a table: what it shows now in a few stretches, for those who cannot see it or want the figures. */

import { ask } from "/static/desk.js";
import { OneAtATime, query, whenQuiet } from "./link.js";
import { clock } from "./panels.js";

const STRETCHES = 16;
const QUIET_MS = 300;

/**
 * Keep the table true to the strip while it is open.
 * @param {string} api
 * @param {import("./strip.js").Strip} strip
 * @param {HTMLDetailsElement} details
 */
export function stripTable(api, strip, details) {
  const box = details.querySelector("div");
  const asking = new OneAtATime();
  const fill = whenQuiet(() => {
    if (!details.open) return;
    const { from_s, to_s } = strip;
    asking.ask(
      () => ask(`${api}/strip${query({ from_s, to_s, points: STRETCHES })}`),
      (answer) => box.replaceChildren(table(answer)),
      (trouble) => (box.textContent = trouble.message),
    );
  }, QUIET_MS);
  details.addEventListener("toggle", fill);
  strip.addEventListener("stretch", fill);
}

function table({ time_s, series }) {
  const made = document.createElement("table");
  made.className = "table figure";
  const step = time_s.length > 1 ? time_s[1] - time_s[0] : 1;
  made.createCaption().textContent = "Least to greatest of each stretch; the time is its middle.";
  const head = made.createTHead().insertRow();
  for (const words of ["time", ...series.map((one) => `${one.words}, ${one.unit}`)]) {
    head.append(cell("th", words, "col"));
  }
  const body = made.createTBody();
  time_s.forEach((at_s, k) => {
    const row = body.insertRow();
    row.append(cell("th", clock(at_s, step), "row"));
    for (const { low, high } of series) row.append(cell("td", span(low[k], high[k])));
  });
  return made;
}

function cell(name, words, scope) {
  const made = document.createElement(name);
  made.className = "n";
  if (scope) made.scope = scope;
  made.textContent = words;
  return made;
}

const figure = (value) => String(Number(value.toPrecision(4))).replace("-", "−");

function span(low, high) {
  if (low === null || low === undefined) return "–";
  const [least, most] = [figure(low), figure(high)];
  return least === most ? least : `${least} to ${most}`;
}
