/** A file of orders is sent as it is; what there is to say of it comes back as the page. */

import { say, trouble } from "/static/desk.js";

const FILE_BYTES = 64 * 1024 * 1024;
const SILENT = "The desk does not answer, and nothing was taken as far as this page knows. Bring the file again: under this page's key it is taken once.";
const main = document.getElementById("main");
let sending = false;

const form = () => document.getElementById("take-orders");
const field = () => document.getElementById("orders-file");
const button = () => document.getElementById("take-button");

function setUp() {
  if (form()) {
    button().disabled = field().files.length === 0;
  }
}

/** Put the page that came back in the place of this one. */
function show(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const found = page.getElementById("main");
  if (!found) {
    return false;
  }
  main.replaceChildren(...found.childNodes);
  setUp();
  const told = main.querySelector(".dock-said");
  if (told) {
    told.tabIndex = -1;
    told.focus();
    say(told.textContent.trim());
  }
  return true;
}

async function send(file) {
  if (sending) {
    return;
  }
  if (file.size > FILE_BYTES) {
    trouble("The file has more than 64 MiB. Split it and bring the parts one after the other.");
    return;
  }
  sending = true;
  button().disabled = true;
  say(`Taking ${file.name} in.`);
  const query = new URLSearchParams({ name: file.name, key: form().dataset.key });
  try {
    const answer = await fetch(`/orders/file?${query}`, {
      method: "POST", body: file, headers: { "Content-Type": "text/csv", Accept: "text/html" },
    });
    const text = await answer.text();
    const page = new DOMParser().parseFromString(text, "text/html");
    trouble("");
    if (page.querySelector("title")?.textContent.startsWith("Orders") && show(text)) {
      return;
    }
    trouble(page.querySelector("[data-sentence]")?.textContent.trim() || text.slice(0, 300) || SILENT);
  } catch {
    trouble(SILENT);
  } finally {
    sending = false;
    setUp();
  }
}

document.addEventListener("change", (event) => event.target === field() && setUp());
document.addEventListener("submit", (event) => {
  if (event.target === form()) {
    event.preventDefault();
    const [file] = field().files;
    if (file) {
      send(file);
    }
  }
});
document.addEventListener("desk:files", (event) => {
  event.preventDefault();
  const { files } = event.detail;
  if (files.length === 1) {
    send(files[0]);
  } else {
    trouble("Several files were dropped. Bring one file of orders at a time.");
  }
});
setUp();
