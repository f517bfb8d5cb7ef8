/** Listen: hears the chosen spot in its versions, and shows on clip, strip and map where the sound is. */

import { ask } from "/static/desk.js";
import { Blind } from "./blind.js";
import { Clips } from "./clips.js";
import { clock } from "./panels.js";
import { query } from "./link.js";

const BEFORE_S = 2;
const PREPARING = "The groove is still being made ready; when that is done, spots can be heard.";
const NO_MUSIC = "There is no music at this spot; choose one within a band.";
const MUTE = "This browser gives no sound. Allow sound for this page, or try another browser.";

/** The panel, and what its keys do. Its state stands in data attributes of its box. */
export class Listen {
  #buffers = null;
  #clip = null;
  #asked = 0;
  #failed = "";

  /**
   * @param {string} api
   * @param {HTMLElement} box
   * @param {import("./link.js").Link} link
   * @param {import("./map.js").DiscMap} map  Knows the bands, and whether the groove can be heard yet.
   */
  constructor(api, box, link, map) {
    Object.assign(this, { api, box, link, map });
    this.clips = new Clips(() => this.#stopped());
    this.parts = Object.fromEntries([...box.querySelectorAll("[data-listen]")].map((one) => [one.dataset.listen, one]));
    this.tip = box.querySelector("#listen-tip");
    this.said = box.querySelector("#listen-said");
    this.versions = [...box.querySelectorAll("[data-version-choice]")];
    this.clicks = box.querySelector("#clicks-play");
    this.blind = new Blind(box.querySelector("#blind"), box.querySelector("#letters"), (version) => this.#hear(version));
    for (const [name, button] of Object.entries(this.parts)) button.addEventListener("click", () => this.act(name));
    for (const button of this.versions) button.addEventListener("click", () => this.version(button.dataset.versionChoice));
    this.tip.addEventListener("change", () => this.#another());
    link.hear("spot", (spot, from) => this.#spot(spot, from));
    this.#words();
  }

  /** Whether a click on disc or strip plays. */
  get onClick() {
    return this.clicks.checked;
  }

  /** What buttons and keys do. */
  act(name) {
    if (name === "play") this.playOrStop();
    if (name === "stop") this.stop();
    if (name === "before") this.before();
    if (name === "loop") this.#loop();
    if (name === "blind") this.#blind();
    if (name === "reveal") this.blind.reveal();
  }

  /** Play the chosen spot, or stop what plays. */
  playOrStop() {
    if (this.clips.playing) this.stop();
    else this.play(this.link.spot?.time_s ?? 0);
  }

  /**
   * Play four seconds from a moment on; must be called inside a tap or a keypress.
   * @param {number} at_s
   */
  async play(at_s) {
    const began = performance.now();
    const asked = ++this.#asked;
    const silent = this.#silent(at_s);
    if (silent) {
      this.said.textContent = silent;
      return;
    }
    this.box.dataset.state = "loading";
    this.said.textContent = "";
    try {
      const context = this.clips.wake();
      const clip = await ask(`${this.api}/clips${query({ at_s: at_s.toFixed(4), tip: this.tip.value })}`);
      const buffers = await this.#fetched(clip);
      if (context.state !== "running") await Promise.race([context.resume(), wait(500)]);
      if (asked !== this.#asked) return;
      if (context.state !== "running") throw new Error(MUTE);
      this.#clip = clip;
      this.#buffers = buffers;
      this.clips.start(buffers);
      this.#playing(performance.now() - began);
    } catch (trouble) {
      if (asked === this.#asked) this.#fail(trouble);
    }
  }

  /** Why nothing can be heard from a moment on, or nothing. */
  #silent(at_s) {
    const { prepared, bands } = this.map.facts;
    if (!prepared) return PREPARING;
    const music = bands.length === 0 || (at_s >= bands[0].start_s && at_s <= bands.at(-1).end_s);
    return music ? "" : NO_MUSIC;
  }

  /** Two seconds before what is heard, or before the spot. */
  before() {
    const from_s = this.clips.playing ? this.#clip.start_s : (this.link.spot?.time_s ?? 0);
    this.play(Math.max(0, from_s - BEFORE_S));
  }

  stop() {
    this.#asked += 1;
    this.clips.stop();
    this.#stopped();
  }

  /** Hear another version, at the same place. */
  version(name) {
    if (this.blind.on) return;
    this.#hear(name);
    for (const button of this.versions) {
      button.setAttribute("aria-pressed", String(button.dataset.versionChoice === name));
    }
    this.#words();
  }

  async #fetched(clip) {
    const decoded = await Promise.all(clip.clips.map(async ({ version, url }) => {
      const answer = await fetch(url);
      if (!answer.ok) throw new Error((await sentence(answer)) ?? "The clip could not be made; choose another spot.");
      return [version, await this.#decoded(await answer.arrayBuffer())];
    }));
    return new Map(decoded);
  }

  async #decoded(bytes) {
    try {
      return await this.clips.decode(bytes);
    } catch {
      throw new Error("This browser cannot decode the clip; try another browser.");
    }
  }

  #hear(version) {
    this.clips.version = version;
    this.box.dataset.version = this.blind.on ? "hidden" : version;
  }

  #loop() {
    const yes = this.box.dataset.loop !== "on";
    this.box.dataset.loop = yes ? "on" : "off";
    this.parts.loop.setAttribute("aria-pressed", String(yes));
    this.clips.loop = yes;
  }

  #blind() {
    const yes = !this.blind.on;
    this.box.dataset.blind = yes ? "on" : "off";
    this.parts.blind.setAttribute("aria-pressed", String(yes));
    this.box.querySelector("#versions").hidden = yes;
    this.blind.active = yes;
    if (!yes) this.version("programme");
    this.#words();
  }

  /** The same spot with another tip. */
  #another() {
    if (this.clips.playing) this.play(this.#clip.start_s);
  }

  #spot(spot, from) {
    const at_s = spot?.time_s;
    this.parts.play.querySelector("span").textContent =
      at_s === null || at_s === undefined ? "Hear this spot" : `Hear ${clock(at_s, 0.1)}`;
    if (at_s !== null && at_s !== undefined && this.onClick && (from === "map" || from === "strip")) this.play(at_s);
  }

  #playing(latency_ms) {
    const { start_s } = this.#clip;
    Object.assign(this.box.dataset, { state: "playing", startS: start_s.toFixed(3), latencyMs: latency_ms.toFixed(0) });
    this.parts.stop.disabled = false;
    this.#failed = "";
    this.#words();
    this.#follow();
  }

  #stopped() {
    this.box.dataset.state = "stopped";
    this.parts.stop.disabled = true;
    this.link.tell("play", null);
  }

  #fail(trouble) {
    this.clips.stop();
    this.#stopped();
    this.box.dataset.state = "failed";
    this.#failed = trouble.message;
    this.#words();
  }

  /** How the proof was matched, or what went wrong. */
  #words() {
    const db = this.#clip?.matched_db;
    const far = Math.abs(db ?? 0).toFixed(1);
    const matched = db === undefined ? "" : far === "0.0" ? "Proof and programme are equally loud."
      : `Proof ${db > 0 ? "raised" : "lowered"} by ${far} dB to be as loud as the programme.`;
    this.said.textContent = this.#failed || matched;
  }

  #follow() {
    const { start_s } = this.#clip;
    const words = this.box.querySelector("#clip-words").children;
    const step = () => {
      if (!this.clips.playing) return;
      const along_s = this.clips.position_s;
      const long_s = this.clips.length_s;
      this.box.dataset.positionS = along_s.toFixed(3);
      this.box.querySelector("#clip-done").style.width = `${(100 * along_s) / long_s}%`;
      [start_s, start_s + along_s, start_s + long_s].forEach((at_s, k) => {
        words[k].textContent = clock(at_s, 0.1);
      });
      this.link.tell("play", { from_s: start_s, to_s: start_s + long_s, at_s: start_s + along_s });
      requestAnimationFrame(step);
    };
    step();
  }
}

const wait = (ms) => new Promise((done) => setTimeout(done, ms));

async function sentence(answer) {
  try {
    return (await answer.json()).sentence;
  } catch {
    return null;
  }
}
