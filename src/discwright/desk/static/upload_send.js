/**
 * One file on its way to the desk: announced, sent in pieces, hashed meanwhile, checked at the end.
 * Nothing here touches the page; upload.js shows what happens.
 */

/* global sha256 */

const ADDRESS = "/api/uploads";
const MEMORY = "discwright-uploads";
const FIRST_WAIT_S = 1;
const LONGEST_WAIT_S = 30;
/** Over how long the speed is averaged from which the time left is told. */
const SPEED_OVER_MS = 15000;

/** The desk said no; the message is its sentence. */
export class Refusal extends Error {
  constructor(sentence, status = 0, answer = {}) {
    super(sentence);
    this.status = status;
    this.offset = answer.offset;
    this.busy = Boolean(answer.busy);
  }
}

/** The desk could not be reached, or was not up to it. */
class Fault extends Error {}

/**
 * Ask the desk for something.
 * @param {string} method
 * @param {string} path behind `/api/uploads`
 * @param {object} [more] `json` or `piece` as the body; `progress(bytes)`; `begun(request)`
 * @returns {Promise<object>} the answer
 * @throws {Refusal|Fault}
 */
export function ask(method, path = "", more = {}) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open(method, ADDRESS + path);
    request.setRequestHeader("Accept", "application/json");
    const fault = () => reject(new Fault());
    request.onerror = request.onabort = request.ontimeout = fault;
    request.onload = () => {
      const answer = parsed(request.responseText);
      if (request.status >= 200 && request.status < 300) {
        resolve(answer);
      } else if (request.status >= 500 || request.status === 408 || !answer.sentence) {
        fault();
      } else {
        reject(new Refusal(answer.sentence, request.status, answer));
      }
    };
    if (more.progress) {
      request.upload.onprogress = (event) => more.progress(event.loaded);
    }
    if (more.json !== undefined) {
      request.setRequestHeader("Content-Type", "application/json");
    } else if (more.piece) {
      request.setRequestHeader("Content-Type", "application/octet-stream");
    }
    request.send(more.piece ?? (more.json === undefined ? null : JSON.stringify(more.json)));
    more.begun?.(request);
  });
}

function parsed(text) {
  try {
    return JSON.parse(text) ?? {};
  } catch {
    return {};
  }
}

/** What this browser sent before and has not finished: `{id: {name, size, modified}}`. */
function remembered() {
  try {
    return parsed(localStorage.getItem(MEMORY) ?? "{}");
  } catch {
    return {}; // storage is switched off
  }
}

function keep(all) {
  try {
    localStorage.setItem(MEMORY, JSON.stringify(all));
  } catch {
    // Then a reload needs the row's own button.
  }
}

/** Remember which file an upload is of, for the time after a reload. */
function remember(id, file) {
  keep({ ...remembered(), [id]: { name: file.name, size: file.size, modified: file.lastModified } });
}

/** Forget an upload. */
export function forget(id) {
  const all = remembered();
  delete all[id];
  keep(all);
}

/**
 * The upload that a chosen file belongs to, if it was begun before.
 * @param {File} file
 * @returns {string|null}
 */
export function begunBefore(file) {
  const same = (one) => one.name === file.name && one.size === file.size && one.modified === file.lastModified;
  return Object.entries(remembered()).find(([, one]) => same(one))?.[0] ?? null;
}

/** One file being sent. `state` is waiting, sending, retrying, checking, paused, ready or refused. */
export class Sending {
  #changed;
  #request = null;
  #hash = null;
  #hashed = 0;
  #unsure = true;
  #wake = null;
  #speeds = [];

  /**
   * @param {File} file
   * @param {string|null} id of the upload to go on with
   * @param {(one: Sending) => void} changed called whenever there is something new to show
   */
  constructor(file, id, changed) {
    this.file = file;
    this.id = id;
    this.name = file.name;
    this.state = "waiting";
    this.offset = 0;
    this.sent = 0;
    this.sentence = "";
    this.words = "";
    this.pieceBytes = 0;
    this.stopped = false;
    this.atEnd = false;
    this.#changed = changed;
  }

  /** Send until the file is ready, refused or paused. */
  async run() {
    this.stopped = false;
    try {
      await this.#begin();
      while (this.offset < this.file.size) {
        await this.#patiently(() => this.#piece());
      }
      await this.#finish();
    } catch (trouble) {
      this.#speeds = [];
      if (this.stopped) {
        this.#tell("paused");
      } else {
        this.#tell("refused", trouble instanceof Refusal ? trouble.message : UNREADABLE);
      }
    }
  }

  /** Stop sending; what has arrived stays. */
  pause() {
    this.stopped = true;
    this.#request?.abort();
    this.#wake?.();
    if (this.state === "waiting") {
      this.#tell("paused");
    }
  }

  /** Try at once instead of waiting. */
  hurry() {
    this.#wake?.();
  }

  /** Queue again; from the beginning where the whole file turned out to be wrong. */
  async again() {
    if (this.state === "refused" && this.atEnd) {
      await this.discard();
      this.id = this.#hash = null;
      this.#hashed = 0;
    }
    this.#tell("waiting");
  }

  /** Have the desk throw the upload away. */
  async discard() {
    this.pause();
    if (this.id === null) {
      return;
    }
    forget(this.id);
    await ask("DELETE", `/${this.id}`).catch((trouble) => {
      if (trouble.status !== 404) {
        throw trouble;
      }
    });
  }

  /** @returns {number|null} seconds until all is sent, or null while nobody knows */
  secondsLeft() {
    const first = this.#speeds[0];
    const last = this.#speeds[this.#speeds.length - 1];
    if (!first || last.at - first.at < 1000 || last.sent <= first.sent) {
      return null;
    }
    return ((this.file.size - last.sent) * (last.at - first.at)) / (last.sent - first.sent) / 1000;
  }

  async #begin() {
    this.#tell("sending");
    this.#hash ??= sha256.create();
    this.#unsure = true;
    this.atEnd = false;
    this.offset = this.sent = 0;
    const there = await this.#there();
    if (there && there.size !== this.file.size) {
      throw new Refusal(OTHER_FILE);
    }
    const json = { name: this.file.name, size: this.file.size, sha256: null };
    const upload = there ?? (await this.#patiently(() => ask("POST", "", { json })));
    this.id = upload.upload;
    this.name = upload.name;
    this.pieceBytes = upload.piece_bytes;
    this.offset = this.sent = upload.offset;
    remember(this.id, this.file);
    this.#unsure = false;
  }

  /** What the desk knows of an upload begun before; null if there is none. */
  async #there() {
    if (this.id === null) {
      return null;
    }
    try {
      return await this.#patiently(() => ask("GET", `/${this.id}`));
    } catch (trouble) {
      if (trouble.status !== 404) {
        throw trouble;
      }
      forget(this.id);
      return null;
    }
  }

  /** The next piece; after a fault the desk is asked first how much of the last one it has. */
  async #piece() {
    if (this.#unsure) {
      this.offset = (await ask("GET", `/${this.id}`)).offset;
    }
    const from = this.offset;
    const piece = this.file.slice(from, from + this.pieceBytes);
    if (piece.size === 0) {
      return;
    }
    this.#unsure = true;
    const progress = (bytes) => this.#progress(from + Math.min(bytes, piece.size));
    const begun = (request) => (this.#request = request);
    const sent = ask("PUT", `/${this.id}?offset=${from}`, { piece, progress, begun });
    // Both are waited for, even where one fails: the next piece must not be hashed while this one still is.
    const [arrived, hashed] = await Promise.allSettled([sent, this.#hashTo(from + piece.size)]);
    if (hashed.status === "rejected") {
      throw hashed.reason;
    }
    if (arrived.status === "rejected") {
      const trouble = arrived.reason;
      if (trouble.status !== 409 || trouble.busy || trouble.offset === from) {
        throw trouble;
      }
      this.offset = trouble.offset; // another page was faster
    } else {
      this.offset = arrived.value.offset;
    }
    this.#unsure = false;
    this.#progress(this.offset);
  }

  async #finish() {
    await this.#hashTo(this.file.size);
    this.atEnd = true;
    this.#tell("checking");
    const json = { sha256: this.#hash.hex() };
    const there = await this.#patiently(() => ask("POST", `/${this.id}/finish`, { json }));
    forget(this.id);
    this.name = there.name;
    this.words = there.words;
    this.#tell("ready");
  }

  /** Hash the file up to a place, in order and each byte once. */
  async #hashTo(end) {
    while (this.#hashed < end) {
      const slice = this.file.slice(this.#hashed, Math.min(end, this.#hashed + this.pieceBytes));
      this.#hash.update(await slice.arrayBuffer());
      this.#hashed += slice.size;
      if (this.stopped) {
        throw new Fault();
      }
    }
  }

  /** Do something until the desk says yes or no, however often the network fails. */
  async #patiently(act) {
    for (let wait = FIRST_WAIT_S; ; wait = Math.min(2 * wait, LONGEST_WAIT_S)) {
      if (this.stopped) {
        throw new Fault();
      }
      try {
        const done = await act();
        if (this.state === "retrying") {
          this.#tell(this.atEnd ? "checking" : "sending");
        }
        return done;
      } catch (trouble) {
        const later = trouble instanceof Fault || (trouble instanceof Refusal && trouble.busy);
        if (this.stopped || !later) {
          throw trouble;
        }
        this.#speeds = [];
        this.#tell("retrying", trouble.message);
        await this.#sleep(wait);
      }
    }
  }

  #sleep(seconds) {
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, seconds * 1000);
      this.#wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }

  #progress(sent) {
    const at = performance.now();
    this.sent = sent;
    this.#speeds = [...this.#speeds.filter((one) => at - one.at < SPEED_OVER_MS), { at, sent }];
    this.#tell(this.state === "retrying" ? "sending" : this.state);
  }

  #tell(state, sentence = "") {
    this.state = state;
    this.sentence = sentence;
    this.#changed(this);
  }
}

const UNREADABLE = "The file can no longer be read; choose it again.";
const OTHER_FILE = "This file has another length than the one begun; choose that one.";
