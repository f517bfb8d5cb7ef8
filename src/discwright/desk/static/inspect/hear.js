/** Hear a fault: programme, capture and difference on one clock, switched without losing the place. */

import { ask } from "/static/desk.js";
import { register } from "/static/keys.js";
import { Clips } from "/static/side/clips.js";
import { query } from "/static/side/link.js";

const MUTE = "This browser gives no sound. Allow sound for this page, or try another browser.";
const WHERE = "listen";
const $ = (id) => document.getElementById(id);

/** The panel. Its state stands in data attributes of its box. */
export class Hear {
  #asked = 0;
  #row = null;

  /**
   * @param {string} play
   * @param {import("./rows.js").Rows} rows
   */
  constructor(play, rows) {
    this.api = `/api/plays/${play}`;
    this.box = $("hear");
    this.rows = rows;
    this.clips = new Clips(() => this.#stopped());
    this.versions = [...this.box.querySelectorAll("[data-version-choice]")];
    this.clips.version = this.box.dataset.version;
    $("hear-play").addEventListener("click", () => this.playOrStop());
    $("hear-stop").addEventListener("click", () => this.stop());
    $("hear-before").addEventListener("click", () => rows.beside(-1));
    $("hear-next").addEventListener("click", () => rows.beside(1));
    $("hear-loop").addEventListener("click", () => this.#loop());
    for (const button of this.versions) button.addEventListener("click", () => this.version(button.dataset.versionChoice));
    this.#keys();
  }

  /** A fault was chosen: it is heard at once where the choice was a tap or a key. */
  choose(row, words) {
    this.#row = row;
    $("hear-what").textContent = words;
    this.play();
  }

  playOrStop() {
    if (this.clips.playing) this.stop();
    else if (this.#row) this.play();
    else this.rows.beside(1);
  }

  async play() {
    const row = this.#row;
    const asked = ++this.#asked;
    this.box.dataset.state = "loading";
    $("hear-said").textContent = "";
    try {
      const context = this.clips.wake();
      const facts = await ask(`${this.api}/clips${query({ at_s: row.dataset.atS })}`);
      const buffers = new Map(await Promise.all(facts.clips.map(async ({ version, url }) => [version, await this.#decoded(url)])));
      if (context.state !== "running") await Promise.race([context.resume(), new Promise((done) => setTimeout(done, 500))]);
      if (asked !== this.#asked) return;
      if (context.state !== "running") throw new Error(MUTE);
      this.clips.start(buffers);
      this.#playing(facts, Number(row.dataset.atS));
    } catch (error) {
      if (asked === this.#asked) this.#fail(error);
    }
  }

  async #decoded(url) {
    const answer = await fetch(url);
    if (!answer.ok) throw new Error((await answer.json().catch(() => null))?.sentence ?? "The sound could not be read; play it once more.");
    return this.clips.decode(await answer.arrayBuffer());
  }

  stop() {
    this.#asked += 1;
    this.clips.stop();
    this.#stopped();
  }

  /** Hear another version, at the same place. */
  version(name) {
    this.clips.version = name;
    this.box.dataset.version = name;
    for (const button of this.versions) button.setAttribute("aria-pressed", String(button.dataset.versionChoice === name));
  }

  #loop() {
    const yes = this.box.dataset.loop !== "on";
    this.box.dataset.loop = yes ? "on" : "off";
    $("hear-loop").setAttribute("aria-pressed", String(yes));
    this.clips.loop = yes;
  }

  #playing(facts, at_s) {
    Object.assign(this.box.dataset, { state: "playing", startS: facts.start_s.toFixed(4) });
    $("hear-stop").disabled = false;
    $("clip-at").style.insetInlineStart = `${(100 * (at_s - facts.start_s)) / facts.seconds}%`;
    const far = Math.abs(facts.matched_db).toFixed(1);
    $("hear-said").textContent = far === "0.0" ? "Capture and programme are equally loud."
      : `Capture ${facts.matched_db > 0 ? "raised" : "lowered"} by ${far} dB to be as loud as the programme.`;
    const step = () => {
      if (!this.clips.playing) return;
      this.box.dataset.positionS = this.clips.position_s.toFixed(3);
      $("clip-done").style.width = `${(100 * this.clips.position_s) / this.clips.length_s}%`;
      requestAnimationFrame(step);
    };
    step();
  }

  #stopped() {
    this.box.dataset.state = "stopped";
    $("hear-stop").disabled = true;
  }

  #fail(error) {
    this.clips.stop();
    this.#stopped();
    this.box.dataset.state = "failed";
    $("hear-said").textContent = error.message;
  }

  #keys() {
    const key = (keys, words, rest) => register({ keys, words, where: WHERE, ...rest });
    key(["p"], "hear the fault, or stop", { button: $("hear-play"), run: () => this.playOrStop() });
    key(["o"], "loop", { button: $("hear-loop") });
    for (const [k, button] of this.versions.entries()) key([String(k + 1)], button.dataset.versionChoice, { button });
  }
}
