/** Plays laid over one another: a mark of its own for each at every spot it found. */

import { Rows } from "./rows.js";
import { stage, tell, words } from "./stage.js";

const find = (selector) => document.querySelector(selector);
const bench = find("#bench");

let map = null;
const rows = new Rows((row) => {
  map?.go(row);
  tell(words(row));
});

function filters() {
  const shared = find("#only-shared");
  const heard = find("#only-heard");
  const plays = [...document.querySelectorAll("[data-play-shape]")];
  if (!shared) return;
  const apply = () => {
    const chosen = new Set(plays.filter((box) => box.checked).map((box) => box.dataset.playShape));
    rows.filter((row) =>
      (!shared.checked || row.dataset.shared === "yes") && (!heard.checked || row.dataset.heard === "yes")
      && [...row.querySelectorAll(".spot-mark")].some((mark) => chosen.has(mark.dataset.shape)));
    const shown = new Set(rows.rows.filter((row) => !row.hidden).map((row) => Number(row.dataset.number)));
    map?.face.filter((mark) => shown.has(mark.number) && chosen.has(mark.shape));
  };
  for (const control of [shared, heard, ...plays]) control.addEventListener("change", apply);
  apply();
}

async function begin() {
  const marks = rows.rows.flatMap((row) =>
    [...row.querySelectorAll(".spot-mark")].map((mark) => ({
      number: Number(row.dataset.number), shape: mark.dataset.shape, x_um: Number(mark.dataset.xUm),
      y_um: Number(mark.dataset.yUm), words: `${mark.title}: ${words(row)}`, heard: row.dataset.heard === "yes",
    })));
  map = await stage(bench, marks, rows);
  filters();
  bench.dataset.script = "yes";
}

begin();
