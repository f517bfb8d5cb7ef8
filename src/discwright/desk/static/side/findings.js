/** The list of findings: each row goes to its place, and what it offers fills the what-if form. */

/**
 * @param {HTMLElement|null} list
 * @param {(number: number, at_s: number) => void} chosen
 */
export function findings(list, chosen) {
  const rows = [...(list?.querySelectorAll(".finding[data-at-s]") ?? [])];
  for (const row of rows) {
    row.querySelector(".finding-go").addEventListener("click", (event) => {
      event.preventDefault();
      chosen(Number(row.dataset.number), Number(row.dataset.atS));
    });
  }
  return {
    current(number) {
      for (const row of rows) {
        if (Number(row.dataset.number) === number) row.setAttribute("aria-current", "true");
        else row.removeAttribute("aria-current");
      }
    },
    /** Bring the current row into sight. */
    show() {
      rows.find((row) => row.getAttribute("aria-current") === "true")?.scrollIntoView({ block: "nearest" });
    },
    /** Number and moment of the one after the current, or before it. */
    beside(step) {
      if (!rows.length) return null;
      const at = rows.findIndex((row) => row.getAttribute("aria-current") === "true");
      const row = rows[at < 0 ? (step > 0 ? 0 : rows.length - 1) : (at + step + rows.length) % rows.length];
      return { number: Number(row.dataset.number), at_s: Number(row.dataset.atS) };
    },
  };
}

/**
 * A finding's offer goes into the form; the person looks at it and sends it.
 * @param {HTMLElement|null} list
 * @param {HTMLFormElement} form
 */
export function offers(list, form) {
  for (const offer of list?.querySelectorAll("form[data-try]") ?? []) {
    offer.addEventListener("submit", (event) => {
      event.preventDefault();
      form.reset();
      for (const [name, value] of JSON.parse(offer.dataset.try)) fill(form.elements.namedItem(name), value);
      const button = form.querySelector("#what-if-go");
      form.querySelector("#tried").textContent = `Filled in: ${offer.querySelector("button").textContent.replace(/^Try: /, "").trim()}.`;
      form.scrollIntoView({ block: "center" });
      button.focus({ preventScroll: true });
    });
  }
  form.addEventListener("reset", () => {
    form.querySelector("#tried").textContent = "";
  });
}

function fill(control, value) {
  if (!control) return;
  if (control instanceof HTMLInputElement && control.type === "checkbox") {
    control.checked = value === "on";
  } else if (control instanceof HTMLSelectElement) {
    // What the plan has already stands first, without a value of its own.
    const fitting = [...control.options].find((option) => option.value === value || option.text === value);
    if (fitting) control.value = fitting.value;
  } else {
    control.value = value;
  }
}
