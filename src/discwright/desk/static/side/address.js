/** Place, zoom, layer, hidden marks, chosen moment and stretch of the strip live in the address: it is the view. */

import { whenQuiet } from "./link.js";

const QUIET_MS = 250;
const NUMBERS = ["x_um", "y_um", "wide_um", "at_s", "from_s", "to_s"];

/** What the address asks for; numbers that are none are left out. */
export function readAddress() {
  const asked = new URLSearchParams(location.search);
  const found = { layer: asked.get("layer") ?? "", marks: asked.get("marks") ?? "" };
  for (const name of NUMBERS) {
    const text = asked.get(name);
    const value = text === null || text.trim() === "" ? NaN : Number(text);
    if (Number.isFinite(value)) found[name] = value;
  }
  return found;
}

/**
 * Write the address when things have been quiet.
 * @param {() => Record<string, string|number|null>} state  What is null or empty is left out.
 */
export function keepAddress(state) {
  return whenQuiet(() => {
    const asked = new URLSearchParams(location.search);
    for (const [name, value] of Object.entries(state())) {
      if (value === null || value === "") asked.delete(name);
      else asked.set(name, typeof value === "number" ? tidy(value) : value);
    }
    const words = asked.toString();
    history.replaceState(history.state, "", `${location.pathname}${words ? `?${words}` : ""}${location.hash}`);
  }, QUIET_MS);
}

/** A tenth of a micron and a tenth of a millisecond are finer than any pixel. */
const tidy = (value) => String(Number(value.toFixed(4)));
