/** The price curve: room to spare against level, drawn from the table beside it and lettered with the table's words. */

const HIGH_PX = 190;
/** Words on an axis stand at least so far apart, px. */
const APART_PX = 26;

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

/**
 * Draw the curve where there are prices.
 * @param {HTMLElement|null} box
 * @param {Iterable<HTMLTableRowElement>} rows
 */
export function priceCurve(box, rows) {
  const prices = [...rows].map((row) => ({
    level: Number(row.dataset.levelDb),
    spare: Number(row.dataset.spareMm),
    words: [...row.cells].map((cell) => cell.textContent.trim()),
  })).sort((a, b) => a.level - b.level);
  if (!box || prices.length < 2) return;
  let chart = null;
  const draw = () => {
    chart?.destroy();
    chart = plot(box, prices);
  };
  draw();
  new ResizeObserver(() => chart.setSize({ width: box.clientWidth, height: HIGH_PX })).observe(box);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
}

function plot(box, prices) {
  const wordsOf = (key, column) => new Map(prices.map((price) => [price[key], price.words[column]]));
  const axis = (names, space, size, side) => ({
    side,
    size,
    gap: 6,
    stroke: css("--ink-soft"),
    font: `13px ${css("--face-text") || "sans-serif"}`,
    grid: { show: false },
    ticks: { stroke: css("--rule-strong"), size: 5, width: 1 },
    splits: (chart, k) => spread(chart, k === 0 ? "x" : "y", [...names.keys()], space),
    values: (_, splits) => splits.map((value) => names.get(value) ?? ""),
  });
  const line = css("--line-1");
  return new window.uPlot(
    {
      width: box.clientWidth,
      height: HIGH_PX,
      padding: [12, 34, 0, 0],
      cursor: { show: false },
      legend: { show: false },
      scales: { x: { time: false }, y: { range: (_, low, top) => [low - 0.1 * (top - low || 1), top + 0.1 * (top - low || 1)] } },
      series: [{}, { stroke: line, width: 2, points: { show: true, size: 8, fill: line } }],
      axes: [axis(wordsOf("level", 0), 3 * APART_PX, 34, 2), axis(wordsOf("spare", 1), APART_PX, 84, 3)],
    },
    [prices.map((price) => price.level), prices.map((price) => price.spare)],
    box,
  );
}

/** As many of the values as can be lettered without touching. */
function spread(chart, scale, values, space) {
  const kept = [];
  for (const value of [...values].sort((a, b) => a - b)) {
    const at = chart.valToPos(value, scale);
    if (kept.every((other) => Math.abs(chart.valToPos(other, scale) - at) >= space)) kept.push(value);
  }
  return kept;
}
