/** A photograph dropped or chosen: sent with what the form says, measured, and shown. */

import { ask, say, trouble } from "/static/desk.js";

const FIELDS = ["um_per_pixel", "wanted_um", "plan", "turn", "walls", "part"];
const $ = (id) => document.getElementById(id);
const form = $("micro-form");
/** @type {File|null} The photograph that was refused: another scale may be all it wants. */
let last = null;

async function measure(file) {
  last = file;
  if (!form.elements.um_per_pixel.value.trim()) {
    say("Give the scale first.");
    form.reportValidity();
    again(true);
    return;
  }
  const asked = new URLSearchParams({ name: file.name });
  for (const name of FIELDS) asked.set(name, form.elements[name].value);
  $("micro-said").textContent = `${file.name} is being measured.`;
  trouble("");
  try {
    const { href } = await ask(`/microscope?${asked}`, { method: "POST", body: file });
    location.assign(href);
  } catch (error) {
    $("micro-said").textContent = "";
    trouble(error.message);
    again(true);
  }
}

function again(shown) {
  $("micro-again").hidden = !shown;
}

$("micro-drop").hidden = false;
$("micro-choose").addEventListener("click", () => $("micro-file").click());
$("micro-again").addEventListener("click", () => last && measure(last));
$("micro-file").addEventListener("change", ({ target }) => {
  const [file] = target.files;
  target.value = "";
  if (file) measure(file);
});
document.addEventListener("desk:files", (event) => {
  event.preventDefault();
  const { files } = event.detail;
  if (files.length === 1) measure(files[0]);
  else say("One photograph at a time; drop a single one.");
});
