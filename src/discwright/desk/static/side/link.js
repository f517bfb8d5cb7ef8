/**
 * What map, strip and listening tell each other: the spot that was chosen, the spot that is only pointed at, and what
 * is being played. One asks, all others follow; who set a value hears its own event too and passes over it by `from`.
 */

/**
 * @typedef {object} Spot
 * @property {number|null} time_s  Moment at which the groove there is played; null off the music.
 * @property {number} x_um  To the right of the disc's centre.
 * @property {number} y_um  Down from the disc's centre.
 */

/** The events `spot`, `hover`, `play` and `stretch`, each with `{value, from}` as its detail. */
export class Link extends EventTarget {
  /** @type {Spot|null} */
  spot = null;

  /**
   * Choose a spot: it stays until another is chosen.
   * @param {Spot} value
   * @param {string} from  Who chose it: "map", "strip", "finding", "address" or "listen".
   */
  choose(value, from) {
    this.spot = value;
    this.tell("spot", value, from);
  }

  /**
   * Point at a spot, or at nothing.
   * @param {Spot|null} value
   * @param {string} from
   */
  point(value, from) {
    this.tell("hover", value, from);
  }

  /**
   * Tell the others.
   * @param {string} name
   * @param {unknown} value
   * @param {string} [from]
   */
  tell(name, value, from = "") {
    this.dispatchEvent(new CustomEvent(name, { detail: { value, from } }));
  }

  /**
   * Hear what the others tell.
   * @param {string} name
   * @param {(value: any, from: string) => void} run
   */
  hear(name, run) {
    this.addEventListener(name, (event) => run(event.detail.value, event.detail.from));
  }
}

/**
 * Questions of one kind to the server, one at a time: while one is under way only the newest other is remembered, so
 * a moving pointer never builds a queue.
 */
export class OneAtATime {
  #busy = false;
  #next = null;
  #stopped = 0;

  /**
   * @template T
   * @param {() => Promise<T>} question
   * @param {(answer: T) => void} answered
   * @param {(trouble: Error) => void} [failed]  Without it a failure is passed over: the next move asks again.
   */
  ask(question, answered, failed = () => {}) {
    const asked = { question, answered, failed, when: this.#stopped };
    if (this.#busy) {
      this.#next = asked;
      return;
    }
    this.#run(asked);
  }

  /** Forget what is waiting and whatever comes of what is under way. */
  drop() {
    this.#next = null;
    this.#stopped += 1;
  }

  async #run({ question, answered, failed, when }) {
    this.#busy = true;
    try {
      const answer = await question();
      if (when === this.#stopped) answered(answer);
    } catch (trouble) {
      if (when === this.#stopped) failed(trouble);
    } finally {
      this.#busy = false;
      const next = this.#next;
      this.#next = null;
      if (next) this.#run(next);
    }
  }
}

/**
 * A function that runs once things have been quiet for a while.
 * @param {() => void} run
 * @param {number} wait_ms
 */
export function whenQuiet(run, wait_ms) {
  let timer = 0;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(run, wait_ms);
  };
}

/** Whether the person asked for still motion. */
export const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

/**
 * A query string of numbers and words.
 * @param {Record<string, string|number>} values
 */
export const query = (values) => `?${new URLSearchParams(Object.entries(values).map(([k, v]) => [k, String(v)]))}`;
