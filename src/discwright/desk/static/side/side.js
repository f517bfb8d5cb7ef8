/**
 * The side page put together: map, strip, findings and listening, each in a module of its own, tied by the spot that was
 * chosen. The server answers with numbers and sentences; here they are drawn.
 */

import { ask, say, trouble } from "/static/desk.js";
import { keepAddress, readAddress } from "./address.js";
import { Bookmarks } from "./bookmarks.js";
import { findings, offers } from "./findings.js";
import { Ink } from "./ink.js";
import { keys } from "./side_keys.js";
import { layers } from "./layers.js";
import { Link, OneAtATime } from "./link.js";
import { Listen } from "./listen.js";
import { DiscMap } from "./map.js";
import { Marks } from "./marks.js";
import { Readout, followPointer } from "./pointer.js";
import { priceCurve } from "./prices.js";
import { Ruler } from "./ruler.js";
import { scaleBar } from "./scale.js";
import { Strip } from "./strip.js";
import { stripTable } from "./strip_table.js";
import { twin } from "./twin.js";

const POLL_MS = 1500;
/** Width of the view that shows a finding: a few turns. */
const NEAR_UM = 3000;
const TORN = "A part of the picture could not be drawn. Move the view, or load the page again.";
const COARSE = "The groove is still being made ready: for now only the coarse picture can be seen.";

const find = (selector) => document.querySelector(selector);

async function begin() {
  const bench = find("#bench");
  const api = `/api/plans/${bench.dataset.plan}`;
  offers(find("#finding-list"), find("#what-if-form"));
  priceCurve(find("#price-chart"), document.querySelectorAll("tr[data-level-db]"));
  let facts;
  try {
    facts = await ask(`${api}/map`);
  } catch (error) {
    trouble(error.message);
    return;
  }
  new Side(api, bench, facts);
}

/** Everything on the page that moves. */
class Side {
  constructor(api, bench, facts) {
    this.api = api;
    this.bench = bench;
    this.link = new Link();
    this.address = readAddress();
    const known = facts.layers.map((layer) => layer.name).concat("vinyl");
    const layer = known.includes(this.address.layer) ? this.address.layer : find("#layer").value;
    this.map = new DiscMap(find("#map-picture"), bench.dataset.plan, facts, layer);
    this.readout = new Readout(api, find("#readout-at"), find("#readout-words"));
    this.ink = new Ink(find("#map-picture"), this.map);
    this.marks = new Marks(find("#map-marks"), this.map, (number) => this.finding(number));
    this.strip = new Strip(api, find("#strip"), facts, {
      pointed: (at_s) => this.#pointedOnStrip(at_s),
      chosen: (at_s) => this.choose(at_s, "strip"),
    });
    this.ruler = new Ruler(api, this.ink, this.readout, say);
    this.bookmarks = new Bookmarks(api, this.map, find("#bookmark-sheet"), find("[data-act=bookmarks]"), (words) => this.tell(words));
    this.list = findings(find("#finding-list"), (number) => this.finding(number));
    const box = find("#listen-box");
    this.listen = box ? new Listen(api, box, this.link, this.map) : null;
    this.save = keepAddress(() => this.#state());
    this.layers = layers(this.map, find("#layer"), find("#layer-key"), this.save);
    stripTable(api, this.strip, find("#strip-numbers"));
    scaleBar(this.map, find("#scale-bar"), bench.dataset.units);
    twin(api, this.map, this.link, find("#twin-words"), () => this.byKey, say);
    followPointer(this.map, this.readout, this.link);
    this.#tie();
    this.#tools();
    keys(this);
    this.map.addEventListener("ready", () => this.#restore());
    if (facts.prepared) this.#prepared();
    else this.#await();
  }

  /** Say it to everybody: seen on the map, spoken to those who listen. */
  tell(words) {
    find("#map-said").textContent = words;
    say(words);
  }

  /** Choose the place under a point of the map. */
  async place(place) {
    if (this.ruler.on) {
      this.ruler.set(place);
      return;
    }
    try {
      const answer = await this.readout.look(place);
      this.readout.show(answer.words, "At the spot");
      this.link.choose({ time_s: answer.time_s, ...place }, "map");
    } catch (error) {
      this.tell(error.message);
    }
  }

  /** Choose a moment and show where it lies. */
  async choose(at_s, from, wide_um) {
    try {
      const answer = await this.readout.when(at_s);
      this.readout.show(answer.words, "At the spot");
      this.link.choose(answer, from);
      if (wide_um || !this.map.shows(answer.x_um, answer.y_um)) this.map.go(answer.x_um, answer.y_um, wide_um);
      return answer;
    } catch (error) {
      this.tell(error.message);
      return null;
    }
  }

  /** Go to a finding, on map, strip and list. */
  finding(number) {
    const mark = this.marks.of(number);
    if (!mark) return;
    this.marks.current = number;
    this.list.current(number);
    this.choose(mark.time_s, "finding", Math.min(NEAR_UM, this.map.view().wide_um));
    this.tell(`Finding ${number}: ${mark.code}.`);
  }

  /** The finding after the current, or before it. */
  besideFinding(step) {
    const next = this.list.beside(step);
    if (!next) {
      this.tell("There is no finding with a place.");
      return;
    }
    this.finding(next.number);
    this.list.show();
  }

  /** The middle of the view, read by key. */
  readMiddle() {
    this.readout.place(this.map.view(), "In the middle", () => say(this.readout.sentence));
  }

  /** Take up or lay down the ruler. */
  setRuler(on) {
    this.ruler.on = on;
    find("[data-act=ruler]").setAttribute("aria-pressed", String(on));
    find("#map").classList.toggle("measuring", on);
    this.tell(on ? "Ruler: choose two places." : "");
  }

  /** Leave the findings off the map, or put them back. */
  setMarks(shown) {
    this.marks.hidden = !shown;
    find("[data-act=marks]").setAttribute("aria-pressed", String(shown));
    this.save();
  }

  async fullScreen() {
    const instrument = find(".instrument");
    const focus = document.activeElement;
    if (document.fullscreenElement) await document.exitFullscreen();
    else await instrument.requestFullscreen?.();
    focus?.focus({ preventScroll: true });
  }

  #tie() {
    const { link, map, strip, ink } = this;
    map.addEventListener("click", (event) => this.place(event.detail));
    map.addEventListener("rest", this.save);
    map.addEventListener("failed", () => this.tell(TORN));
    strip.addEventListener("stretch", this.save);
    map.element.addEventListener("pointermove", (event) => {
      if (!this.ruler.on) return;
      const { left, top } = map.element.getBoundingClientRect();
      this.ruler.follow(map.placeAt(event.clientX - left, event.clientY - top));
    });
    link.hear("spot", (spot) => {
      ink.ring("chosen", spot);
      if (spot.time_s !== null) strip.choose(spot.time_s, spot.words);
      this.save();
    });
    link.hear("hover", (spot, from) => {
      if (from === "map") strip.point(spot?.time_s ?? null);
      else ink.ring("pointed", spot);
    });
    link.hear("stretch", (view) => strip.view(view?.from_s ?? null, view?.to_s ?? null));
    const heard = new OneAtATime();
    link.hear("play", (play) => {
      strip.heard(play?.from_s ?? null, play?.to_s ?? null, play?.at_s ?? null);
      if (!play) {
        heard.drop();
        ink.ring("heard", null);
        return;
      }
      heard.ask(() => this.readout.when(play.at_s), (answer) => ink.ring("heard", answer));
    });
  }

  #pointedOnStrip(at_s) {
    if (at_s === null) {
      this.readout.drop();
      this.link.point(null, "strip");
      return;
    }
    this.readout.time(at_s, "On the strip", (answer) => this.link.point(answer, "strip"));
  }

  #tools() {
    const acts = {
      "zoom-in": () => this.map.zoom(2),
      "zoom-out": () => this.map.zoom(0.5),
      whole: () => this.map.whole(),
      finding: () => this.besideFinding(1),
      ruler: () => this.setRuler(!this.ruler.on),
      bookmarks: () => this.bookmarks.open(),
      marks: () => this.setMarks(this.marks.hidden),
      full: () => this.fullScreen(),
    };
    for (const [name, act] of Object.entries(acts)) find(`[data-act=${name}]`).addEventListener("click", act);
    for (const link of document.querySelectorAll("a.go[data-at-s]")) {
      link.addEventListener("click", (event) => {
        event.preventDefault();
        this.choose(Number(link.dataset.atS), "finding", Math.min(NEAR_UM, this.map.view().wide_um));
      });
    }
  }

  #state() {
    const { x_um, y_um, wide_um } = this.map.view();
    return {
      x_um, y_um, wide_um,
      layer: this.map.layer === "vinyl" ? null : this.map.layer,
      marks: this.marks.hidden ? "off" : null,
      at_s: this.link.spot?.time_s ?? null,
      from_s: this.strip.whole ? null : this.strip.from_s,
      to_s: this.strip.whole ? null : this.strip.to_s,
    };
  }

  #restore() {
    const { x_um, y_um, wide_um, at_s, from_s, to_s, marks } = this.address;
    if (marks === "off") this.setMarks(false);
    if (x_um !== undefined && y_um !== undefined) this.map.go(x_um, y_um, wide_um, true);
    if (from_s !== undefined && to_s > from_s) this.strip.show(from_s, to_s);
    if (at_s !== undefined) {
      this.readout.when(at_s).then((answer) => {
        this.readout.show(answer.words, "At the spot");
        this.link.choose(answer, "address");
      }, () => {});
    }
    this.bench.dataset.ready = "yes";
  }

  #prepared() {
    this.bench.dataset.prepared = "yes";
    if (find("#map-said").textContent === COARSE) this.tell("The groove is ready: zoom in as far as you like.");
  }

  /** The deep levels open up when the server says so; the end of a job on this page hurries the next question. */
  #await() {
    this.tell(COARSE);
    let timer = 0;
    const again = async () => {
      clearTimeout(timer);
      const facts = await ask(`${this.api}/map`).catch(() => null);
      if (this.map.facts.prepared) return;
      if (!facts?.prepared) {
        timer = setTimeout(again, POLL_MS);
        return;
      }
      this.map.prepare(facts);
      this.strip.load();
      this.#prepared();
    };
    timer = setTimeout(again, POLL_MS);
    document.addEventListener("desk:job", ({ detail }) => {
      if (detail.href !== location.pathname) return;
      document.getElementById(`job-${detail.id}`)?.remove();
      again();
    });
  }
}

begin();
