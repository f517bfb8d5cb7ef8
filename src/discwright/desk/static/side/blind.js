/** Blind: programme and proof are shuffled under X and Y; who says which is which learns whether it was right. */

/** Shuffles, asks, counts. */
export class Blind {
  #hidden = new Map();
  #right = 0;
  #answers = 0;
  #open = false;

  /**
   * @param {HTMLElement} box
   * @param {HTMLElement} letters
   * @param {(version: string) => void} hear
   */
  constructor(box, letters, hear) {
    this.box = box;
    this.said = box.querySelector("#blind-said");
    this.letters = letters;
    this.hear = hear;
    this.on = false;
    for (const button of letters.querySelectorAll("[data-letter]")) {
      button.addEventListener("click", () => this.choose(button.dataset.letter));
    }
    for (const button of box.querySelectorAll("[data-answer]")) {
      button.addEventListener("click", () => this.answer(button.dataset.answer));
    }
  }

  /** Begin or end; a new beginning counts anew. */
  set active(yes) {
    this.on = yes;
    this.box.hidden = !yes;
    this.letters.hidden = !yes;
    if (!yes) return;
    this.#right = 0;
    this.#answers = 0;
    this.said.textContent = "";
    this.#shuffle();
  }

  #shuffle() {
    const versions = Math.random() < 0.5 ? ["programme", "proof"] : ["proof", "programme"];
    this.#hidden = new Map([["X", versions[0]], ["Y", versions[1]]]);
    this.#open = false;
    this.choose("X");
  }

  /** Hear one of the letters. */
  choose(letter) {
    if (!this.on) return;
    for (const button of this.letters.querySelectorAll("[data-letter]")) {
      button.setAttribute("aria-pressed", String(button.dataset.letter === letter));
    }
    this.hear(this.#hidden.get(letter));
  }

  /** Say that a letter is the programme. */
  answer(letter) {
    if (!this.on) return;
    if (this.#open) {
      this.#shuffle();
      this.said.textContent = "Shuffled again: listen, then say.";
      return;
    }
    const right = this.#hidden.get(letter) === "programme";
    this.#answers += 1;
    if (right) this.#right += 1;
    const told = `${right ? "Right" : "Wrong"}: ${this.#programme()} was the programme.`;
    this.#shuffle();
    this.said.textContent = `${told} ${this.#right} of ${this.#answers} right. Shuffled again.`;
    this.box.dataset.right = String(this.#right);
    this.box.dataset.answers = String(this.#answers);
  }

  /** Show which is which; that pair no longer counts. */
  reveal() {
    if (!this.on) return;
    this.#open = true;
    this.said.textContent = `${this.#programme()} is the programme. This pair is not counted; the next answer shuffles again.`;
  }

  #programme() {
    return [...this.#hidden].find(([, version]) => version === "programme")[0];
  }
}
