/** The table of faults: which row is chosen, which are shown, the one before and the next. */

const find = (selector) => document.querySelector(selector);

/** Rows that can be filtered and gone through. */
export class Rows {
  /** @param {(row: HTMLTableRowElement) => void} chosen */
  constructor(chosen) {
    this.rows = [...document.querySelectorAll("#fault-table tr.fault")];
    this.count = find("#fault-count");
    this.chosen = chosen;
    this.current = null;
    for (const row of this.rows) {
      row.querySelector(".fault-go").addEventListener("click", () => this.choose(row));
    }
    this.filter(() => true);
  }

  /** Choose a row by its number. */
  number(number) {
    const row = this.rows.find((one) => Number(one.dataset.number) === number);
    if (row) this.choose(row);
  }

  choose(row) {
    this.current?.removeAttribute("aria-current");
    this.current = row;
    row.setAttribute("aria-current", "true");
    row.hidden = false;
    row.scrollIntoView({ block: "nearest" });
    this.chosen(row);
  }

  /** The row that is shown after the current, or before it. */
  beside(step) {
    const shown = this.rows.filter((row) => !row.hidden);
    if (!shown.length) return;
    const at = shown.indexOf(this.current);
    this.choose(shown[at < 0 ? (step > 0 ? 0 : shown.length - 1) : (at + step + shown.length) % shown.length]);
  }

  /** Show only some. @param {(row: HTMLTableRowElement) => boolean} shown */
  filter(shown) {
    let count = 0;
    for (const row of this.rows) {
      row.hidden = !shown(row);
      count += row.hidden ? 0 : 1;
    }
    if (this.count) this.count.textContent = `${count} of ${this.rows.length} shown`;
  }
}
