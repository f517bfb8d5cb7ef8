/** The scale bar: the longest round length that fits, in the person's words. */

const LONGEST_PX = 180;
/** 1, 2 and 5 of every size from half a micron to ten centimetres. */
const METRIC = [0.5, ...[1, 10, 100, 1e3, 1e4].flatMap((size) => [size, 2 * size, 5 * size]), 1e5].map((um) => [
  um,
  um < 1000 ? `${um} µm` : um < 10000 ? `${um / 1000} mm` : `${um / 10000} cm`,
]);
/** 1, 2 and 5 of every size from a fiftieth of a thousandth of an inch to five inches. */
const INCHES = [0.02, 0.05, ...[0.1, 1, 10, 100, 1000].flatMap((size) => [size, 2 * size, 5 * size])].map((thou) => [
  thou * 25.4,
  thou < 100 ? `${Number(thou.toPrecision(2))} thou` : `${Number((thou / 1000).toPrecision(2))} in`,
]);

/**
 * Keep the bar true to the view.
 * @param {import("./map.js").DiscMap} map
 * @param {HTMLElement} bar
 * @param {string} units  Of the person: "metric" or "inch".
 */
export function scaleBar(map, bar, units) {
  const steps = units === "inch" ? INCHES : METRIC;
  const [line, words] = bar.children;
  const draw = () => {
    const scale = map.scale_um;
    const fitting = steps.filter(([um]) => um / scale <= LONGEST_PX).at(-1) ?? steps[0];
    line.style.width = `${fitting[0] / scale}px`;
    words.textContent = fitting[1];
    bar.hidden = false;
  };
  map.addEventListener("moved", draw);
  map.addEventListener("ready", draw);
}
