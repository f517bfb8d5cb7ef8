/**
 * The strip's small panels: one line of numbers each against time, all over the same stretch, drawn by uPlot. Every
 * stretch of a pixel's width shows its least and its greatest value, so no peak is lost.
 */

/** Room for names and scales at the left, and air at the right, px. */
export const LEFT_PX = 150;
export const RIGHT_PX = 10;
const AXIS_PX = 24;
const TICKS_PX = 46;
const LEAST_PX = 24;
/** Lower than this a panel has one line for its name and one number at its scale. */
const LOW_PX = 34;
/** Narrower than this it says only "limit", or the words would hide the line. */
const NARROW_PX = 760;
/** A limit farther from the values than this many times their own range would squash them; it is not drawn then. */
const LIMIT_REACH = 2.5;

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

/** Minutes and seconds, with as many decimals as the step between two of them asks for. */
export function clock(seconds, step = 1) {
  const decimals = step >= 1 ? 0 : step >= 0.1 ? 1 : step >= 0.01 ? 2 : 3;
  const rounded = Math.abs(seconds).toFixed(decimals);
  const minutes = Math.floor(Number(rounded) / 60);
  const rest = (Number(rounded) - 60 * minutes).toFixed(decimals);
  return `${seconds < 0 ? "−" : ""}${minutes}:${rest.padStart(decimals ? 3 + decimals : 2, "0")}`;
}

/** All panels of one strip. */
export class Panels {
  #plots = [];

  /**
   * @param {HTMLElement} parent
   * @param {{start_s: number, end_s: number}[]} bands  Scales follow the music; coarse moves may leave the panel.
   */
  constructor(parent, bands) {
    this.parent = parent;
    this.bands = bands;
  }

  /** Width of the part that shows time, px. */
  get wide_px() {
    return Math.max(50, this.parent.clientWidth - LEFT_PX - RIGHT_PX);
  }

  /**
   * Draw a stretch.
   * @param {object} answer  What `/strip` said.
   * @param {number} from_s
   * @param {number} to_s
   */
  show(answer, from_s, to_s) {
    this.answer = answer;
    this.from_s = from_s;
    this.to_s = to_s;
    if (this.#plots.length !== answer.series.length) this.#build(answer.series);
    answer.series.forEach((series, k) => {
      const plot = this.#plots[k];
      plot.limit = series.limit ?? null;
      plot.limitWords = series.limit_words || "limit";
      plot.span = this.#span(answer.time_s, series);
      plot.chart.setData([answer.time_s, series.low, series.high], false);
      plot.chart.setScale("x", { min: from_s, max: to_s });
    });
  }

  /** Least and greatest value while there is music; of everything where there is none. */
  #span(times, { low, high }) {
    const edge = times.length > 1 ? 1.5 * (times[1] - times[0]) : 0;
    const music = (k) => this.bands.some(({ start_s, end_s }) => times[k] > start_s + edge && times[k] < end_s - edge);
    const among = (test) => {
      let [least, most] = [Infinity, -Infinity];
      times.forEach((_, k) => {
        if (low[k] === null || low[k] === undefined || !test(k)) return;
        least = Math.min(least, low[k]);
        most = Math.max(most, high[k]);
      });
      return least <= most ? [least, most] : null;
    };
    return among(music) ?? among(() => true);
  }

  /** The same values over another stretch, until the server has answered for it. */
  stretch(from_s, to_s) {
    this.from_s = from_s;
    this.to_s = to_s;
    for (const { chart } of this.#plots) chart.setScale("x", { min: from_s, max: to_s });
  }

  /** Fit into the room there is. */
  size() {
    const high = this.#high();
    this.parent.classList.toggle("low", high < LOW_PX);
    this.#plots.forEach(({ chart }, k) => {
      const last = k === this.#plots.length - 1;
      chart.setSize({ width: this.parent.clientWidth - RIGHT_PX, height: high + (last ? AXIS_PX : 0) });
    });
  }

  /** Draw everything anew, in the colours of another look. */
  recolour() {
    if (!this.answer) return;
    for (const { chart } of this.#plots) chart.destroy();
    this.#plots = [];
    this.show(this.answer, this.from_s, this.to_s);
  }

  #high() {
    const count = Math.max(1, this.answer?.series.length ?? 6);
    return Math.max(LEAST_PX, Math.floor((this.parent.clientHeight - AXIS_PX) / count));
  }

  #build(series) {
    for (const { chart } of this.#plots) chart.destroy();
    this.parent.replaceChildren();
    const high = this.#high();
    this.parent.classList.toggle("low", high < LOW_PX);
    this.#plots = series.map((one, k) => this.#panel(one, k, high, k === series.length - 1));
  }

  #panel(series, k, high, last) {
    const row = document.createElement("div");
    row.className = "strip-row";
    const name = document.createElement("p");
    name.className = "strip-name";
    const unit = document.createElement("span");
    unit.textContent = series.unit;
    name.append(series.words, unit);
    name.title = `${series.words}, ${series.unit}`;
    row.append(name);
    this.parent.append(row);
    const plot = { span: null, limit: series.limit ?? null, limitWords: series.limit_words || "limit" };
    const line = css(`--line-${k + 1}`) || css("--ink");
    plot.chart = new window.uPlot(
      {
        width: this.parent.clientWidth - RIGHT_PX,
        height: high + (last ? AXIS_PX : 0),
        padding: [3, 0, last ? 0 : 3, 0],
        cursor: { show: false },
        select: { show: false },
        legend: { show: false },
        scales: { x: { time: false }, y: { range: () => range(plot.span, plot.limit) } },
        series: [{}, stroke(line), stroke(line)],
        bands: [{ series: [2, 1], fill: line, dir: -1 }],
        axes: [timeAxis(last), valueAxis()],
        hooks: { drawClear: [ground], draw: [(chart) => drawLimit(chart, plot)] },
      },
      [[], [], []],
      row,
    );
    return plot;
  }
}

const stroke = (line) => ({ stroke: line, width: 1.25, points: { show: false }, spanGaps: false });

const font = (size) => `${size}px ${css("--face-text") || "sans-serif"}`;

function timeAxis(shown) {
  return {
    show: true,
    size: shown ? AXIS_PX : 0,
    gap: 3,
    space: 90,
    stroke: css("--ink-soft"),
    font: font(13),
    grid: { stroke: css("--rule"), width: 1 },
    ticks: { show: false },
    incrs: [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600],
    values: (_, splits, __, ___, step) => splits.map((value) => (shown ? clock(value, step) : "")),
  };
}

function valueAxis() {
  return {
    size: LEFT_PX,
    gap: 5,
    stroke: css("--ink-soft"),
    font: font(12),
    grid: { show: false },
    ticks: { show: false },
    // The ends of what is shown are enough for a panel of this height.
    splits: (chart) => ends(chart.scales.y.min, chart.scales.y.max).slice(chart.height < LOW_PX ? -1 : 0),
    filter: (_, splits) => splits,
    values: (_, splits) => splits.map((value) => String(Number(value.toPrecision(3))).replace("-", "−")),
  };
}

/** Two round numbers just inside a range. */
function ends(low, top) {
  const wide = top - low;
  if (!(wide > 0)) return [low];
  const step = 10 ** Math.floor(Math.log10(wide / 2));
  const fine = [5, 2, 1].map((k) => k * step).find((k) => wide / k >= 3) ?? step;
  const first = Math.ceil((low + 0.08 * wide) / fine) * fine;
  const last = Math.floor((top - 0.08 * wide) / fine) * fine;
  return first < last ? [first, last] : [first];
}

function range(span, limit) {
  if (!span) return [0, 1];
  const [low, top] = span;
  const wide = Math.max(top - low, 1e-3 * Math.max(Math.abs(low), Math.abs(top)), 1e-9);
  let [from, to] = [low, top];
  if (limit !== null && limit > low - LIMIT_REACH * wide && limit < top + LIMIT_REACH * wide) {
    from = Math.min(from, limit);
    to = Math.max(to, limit);
  }
  const air = 0.08 * Math.max(to - from, wide);
  return [from - air, to + air];
}

function ground(chart) {
  const { left, top, width, height } = chart.bbox;
  chart.ctx.fillStyle = css("--paper-raised");
  chart.ctx.fillRect(left, top, width, height);
}

function drawLimit(chart, { limit, limitWords }) {
  const { min, max } = chart.scales.y;
  if (limit === null || limit < min || limit > max) return;
  const { ctx, bbox } = chart;
  const y = Math.round(chart.valToPos(limit, "y", true)) + 0.5;
  ctx.save();
  ctx.strokeStyle = css("--line-limit");
  ctx.lineWidth = 1.25 * devicePixelRatio;
  ctx.setLineDash([6 * devicePixelRatio, 4 * devicePixelRatio]);
  ctx.beginPath();
  ctx.moveTo(bbox.left, y);
  ctx.lineTo(bbox.left + bbox.width, y);
  ctx.stroke();
  ctx.font = font(11 * devicePixelRatio);
  ctx.textAlign = "right";
  const roomy = chart.width >= NARROW_PX + LEFT_PX && chart.height >= LOW_PX;
  const words = `${roomy ? limitWords : "limit"} ${Number(limit.toPrecision(3))}`;
  const [right, high] = [bbox.left + bbox.width - 4, 14 * devicePixelRatio];
  const top = y - bbox.top > high ? y - high : y + 2;
  ctx.globalAlpha = 0.8;
  ctx.fillStyle = css("--paper-raised");
  ctx.fillRect(right - ctx.measureText(words).width - 3, top, ctx.measureText(words).width + 6, high - 1);
  ctx.globalAlpha = 1;
  ctx.fillStyle = css("--line-limit");
  ctx.textBaseline = "top";
  ctx.fillText(words, right, top + 1);
  ctx.restore();
}
