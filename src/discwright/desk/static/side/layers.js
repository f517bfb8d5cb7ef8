/** Shading of the map by another property, with its key: the ramp, its ends, and the limit as a line with a word. */

/**
 * @param {import("./map.js").DiscMap} map
 * @param {HTMLSelectElement} choice
 * @param {HTMLElement} key
 * @param {() => void} changed
 */
export function layers(map, choice, key, changed) {
  const show = () => {
    choice.value = map.layer;
    drawKey(map.facts.layers.find((layer) => layer.name === map.layer), key);
  };
  const shade = (name) => {
    map.shade(name);
    show();
    changed();
  };
  choice.addEventListener("change", () => shade(choice.value));
  show();
  return {
    /** The next one, round and round; its name in words. */
    next() {
      const names = [...choice.options].map((option) => option.value);
      shade(names[(names.indexOf(map.layer) + 1) % names.length]);
      return choice.selectedOptions[0].textContent.trim();
    },
  };
}

const share = (layer, value) => `${(100 * (value - layer.low)) / (layer.high - layer.low)}%`;

function drawKey(layer, key) {
  const ramp = layer?.stops ?? [];
  key.hidden = ramp.length < 2;
  key.replaceChildren();
  if (key.hidden) return;
  const bar = document.createElement("div");
  bar.className = "key-bar";
  bar.style.background = `linear-gradient(to right, ${ramp.map(([value, colour]) => `${colour} ${share(layer, value)}`).join(", ")})`;
  const ends = document.createElement("p");
  ends.className = "key-ends figure";
  ends.append(word(String(layer.low)), word(layer.unit), word(String(layer.high)));
  const name = document.createElement("p");
  name.className = "key-words";
  name.textContent = layer.words;
  key.append(name, bar, ends);
  if (layer.limit !== null && layer.limit >= layer.low && layer.limit <= layer.high) {
    const line = document.createElement("span");
    line.className = "key-limit";
    line.style.left = share(layer, layer.limit);
    bar.append(line);
    const told = document.createElement("p");
    told.className = "key-told";
    told.textContent = `Line: the limit, ${layer.limit} ${layer.unit}; what lies beyond it is hatched.`;
    key.append(told);
  }
}

function word(text) {
  const span = document.createElement("span");
  span.textContent = text;
  return span;
}
