/**
 * The versions of one spot on one clock: decoded to buffers, started at the same sample, told apart only by their gains,
 * which are cross-faded. Switching keeps the place because nothing is ever started anew.
 */

/** Length of a cross-fade, s; asked for: within 10 ms. */
export const FADE_S = 0.008;
/** Everything is started this much ahead, so that all starts fall on the same sample, s. */
const AHEAD_S = 0.02;

/** One player for the page; a context is made in the first tap or keypress, as browsers ask. */
export class Clips {
  /** @type {AudioContext|null} */
  context = null;
  #voices = new Map();
  #playing = false;
  #began = 0;
  #loop = false;
  #version = "programme";
  #ended = () => {};

  /** @param {() => void} ended  Called when the clips have run out. */
  constructor(ended) {
    this.#ended = ended;
  }

  /** Wake the sound; must be called inside a tap or a keypress. */
  wake() {
    this.context ??= new AudioContext({ latencyHint: "interactive" });
    if (this.context.state === "suspended") this.context.resume();
    return this.context;
  }

  /** @param {ArrayBuffer} bytes */
  decode(bytes) {
    return this.context.decodeAudioData(bytes);
  }

  /**
   * Start all versions together.
   * @param {Map<string, AudioBuffer>} buffers  By version, all of one length.
   * @param {number} [offset_s]
   */
  start(buffers, offset_s = 0) {
    this.stop();
    const at = this.context.currentTime + AHEAD_S;
    for (const [version, buffer] of buffers) {
      const source = new AudioBufferSourceNode(this.context, { buffer, loop: this.#loop });
      const gain = new GainNode(this.context, { gain: 0 });
      source.connect(gain).connect(this.context.destination);
      gain.gain.setValueAtTime(0, at);
      gain.gain.linearRampToValueAtTime(version === this.#version ? 1 : 0, at + FADE_S);
      source.start(at, offset_s);
      this.#voices.set(version, { source, gain });
    }
    this.length_s = Math.min(...[...buffers.values()].map((buffer) => buffer.duration));
    this.#began = at - offset_s;
    this.#playing = true;
    const [first] = this.#voices.values();
    first.source.onended = () => {
      if (this.#voices.get([...buffers.keys()][0])?.source !== first.source) return;
      this.#silence();
      this.#ended();
    };
  }

  /** Fade out and end. */
  stop() {
    if (!this.#playing) return;
    const now = this.context.currentTime;
    for (const { source, gain } of this.#voices.values()) {
      source.onended = null;
      fade(gain.gain, 0, now);
      source.stop(now + FADE_S);
    }
    this.#silence();
  }

  #silence() {
    this.#voices = new Map();
    this.#playing = false;
  }

  get playing() {
    return this.#playing;
  }

  /** Which version is heard; another one fades in while it fades out, at the same place. */
  get version() {
    return this.#version;
  }

  set version(name) {
    this.#version = name;
    if (!this.#playing) return;
    const now = this.context.currentTime;
    for (const [version, { gain }] of this.#voices) fade(gain.gain, version === name ? 1 : 0, now);
  }

  /** Again and again; may change while it plays. */
  set loop(yes) {
    this.#loop = yes;
    for (const { source } of this.#voices.values()) source.loop = yes;
  }

  /** How far into the clips the sound is, s. */
  get position_s() {
    if (!this.#playing) return 0;
    const along = Math.max(0, this.context.currentTime - this.#began);
    return this.#loop ? along % this.length_s : Math.min(along, this.length_s);
  }
}

function fade(gain, to, now) {
  gain.cancelScheduledValues(now);
  gain.setValueAtTime(gain.value, now);
  gain.linearRampToValueAtTime(to, now + FADE_S);
}
