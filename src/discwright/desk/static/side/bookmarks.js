/** Places with a name that were kept for this plan: add, go there, delete. */

import { ask } from "/static/desk.js";

/** The sheet of bookmarks over the map. */
export class Bookmarks {
  /**
   * @param {string} api
   * @param {import("./map.js").DiscMap} map
   * @param {HTMLElement} sheet
   * @param {HTMLButtonElement} button
   * @param {(sentence: string) => void} told
   */
  constructor(api, map, sheet, button, told) {
    Object.assign(this, { api, map, sheet, button, told });
    this.form = sheet.querySelector("form");
    this.field = sheet.querySelector("input");
    this.list = sheet.querySelector("ul");
    this.none = sheet.querySelector("#bookmark-none");
    button.setAttribute("aria-expanded", "false");
    button.setAttribute("aria-controls", sheet.id);
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#keep();
    });
    sheet.addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.open(false);
    });
    sheet.querySelector("[data-act]").addEventListener("click", () => this.open(false));
  }

  /**
   * Show the sheet, with the field ready, or put it away.
   * @param {boolean} yes
   */
  async open(yes = this.sheet.hidden) {
    this.sheet.hidden = !yes;
    this.button.setAttribute("aria-expanded", String(yes));
    if (!yes) {
      this.button.focus();
      return;
    }
    this.field.focus();
    await this.#tried(() => this.#load());
  }

  async #tried(act) {
    try {
      await act();
    } catch (trouble) {
      this.told(trouble.message);
    }
  }

  async #load() {
    const answer = await ask(`${this.api}/bookmarks`);
    const rows = Array.isArray(answer) ? answer : answer.bookmarks;
    this.list.replaceChildren(...rows.map((row) => this.#row(row)));
    this.none.hidden = rows.length > 0;
  }

  #row(bookmark) {
    const item = document.createElement("li");
    const go = document.createElement("button");
    go.type = "button";
    go.className = "button quiet";
    go.textContent = bookmark.words;
    go.addEventListener("click", () => this.map.go(bookmark.x_um, bookmark.y_um, bookmark.wide_um));
    const remove = document.createElement("button");
    remove.type = "button";
    remove.className = "button quiet";
    remove.textContent = "Delete";
    remove.setAttribute("aria-label", `Delete ${bookmark.words}`);
    remove.addEventListener("click", () => this.#delete(bookmark));
    item.append(go, remove);
    return item;
  }

  #keep() {
    const { x_um, y_um, wide_um } = this.map.view();
    const words = this.field.value.trim();
    if (!words) return Promise.resolve();
    return this.#tried(async () => {
      await ask(`${this.api}/bookmarks`, { method: "POST", json: { words, x_um, y_um, wide_um } });
      this.field.value = "";
      await this.#load();
      this.told(`Bookmark kept: ${words}.`);
    });
  }

  #delete(bookmark) {
    return this.#tried(async () => {
      await ask(`${this.api}/bookmarks/${bookmark.id}`, { method: "DELETE" });
      await this.#load();
      this.field.focus();
      this.told(`Bookmark deleted: ${bookmark.words}.`);
    });
  }
}
