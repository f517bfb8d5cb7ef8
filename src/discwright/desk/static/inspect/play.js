/** The page of a play put together: table, map and listening follow the fault that was chosen. */

import { Hear } from "./hear.js";
import { Rows } from "./rows.js";
import { stage, tell, words } from "./stage.js";

const find = (selector) => document.querySelector(selector);
const bench = find("#bench");

let map = null;
let hear = null;
const rows = new Rows((row) => {
  map?.go(row);
  hear?.choose(row, words(row));
  tell(words(row));
});

function filters() {
  const kinds = [...document.querySelectorAll("#fault-legend input")];
  const heard = find("#only-heard");
  const least = find("#least-db");
  if (!heard) return;
  const apply = () => {
    const chosen = new Set(kinds.filter((box) => box.checked).map((box) => box.value));
    const fits = ({ dataset }) =>
      chosen.has(dataset.kind) && (!heard.checked || dataset.heard === "yes")
      && (least.selectedIndex === 0 || Number(dataset.sizeDb) >= Number(least.value));
    rows.filter(fits);
    const shown = new Set(rows.rows.filter((row) => !row.hidden).map((row) => Number(row.dataset.number)));
    map?.face.filter((mark) => shown.has(mark.number));
  };
  for (const control of [...kinds, heard, least]) control.addEventListener("change", apply);
  // A browser that goes back keeps what was ticked.
  apply();
}

/** A finding leads to its place on the map. */
function findings() {
  for (const link of document.querySelectorAll("#finding-list .finding[data-at-s] a.finding-go")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      const at_s = Number(link.closest(".finding").dataset.atS);
      const far = (row) => Math.abs(Number(row.dataset.atS) - at_s);
      const nearest = rows.rows.reduce((best, row) => (best && far(best) <= far(row) ? best : row), null);
      if (nearest && far(nearest) < 0.05) rows.choose(nearest);
    });
  }
}

async function begin() {
  if (find("#hear")) hear = new Hear(bench.dataset.play, rows);
  const marks = rows.rows.map((row) => ({
    number: Number(row.dataset.number), shape: row.dataset.shape, x_um: Number(row.dataset.xUm),
    y_um: Number(row.dataset.yUm), words: words(row), heard: row.dataset.heard === "yes",
  }));
  findings();
  map = await stage(bench, marks, rows);
  filters();
  bench.dataset.script = "yes";
}

begin();
