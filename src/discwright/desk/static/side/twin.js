/** What is in view, told in words: for those who cannot see the picture, and for everybody to check it by. */

import { ask } from "/static/desk.js";
import { OneAtATime, query, whenQuiet } from "./link.js";

const QUIET_MS = 350;

/**
 * Keep the words true to the view once it rests.
 * @param {string} api
 * @param {import("./map.js").DiscMap} map
 * @param {import("./link.js").Link} link
 * @param {HTMLElement} paragraph
 * @param {() => boolean} aloud  Whether somebody moves the map by key and wants to hear where it went.
 * @param {(sentence: string) => void} say
 */
export function twin(api, map, link, paragraph, aloud, say) {
  const asking = new OneAtATime();
  const tell = whenQuiet(() => {
    asking.ask(() => ask(`${api}/view${query(rounded(map.view()))}`), (answer) => {
      const words = answer.sentences.join(" ");
      if (paragraph.textContent === words) return;
      paragraph.textContent = words;
      link.tell("stretch", answer.from_s === undefined || answer.from_s === null ? null : answer);
      if (aloud()) say(words);
    });
  }, QUIET_MS);
  map.addEventListener("rest", tell);
  map.addEventListener("ready", tell);
}

const rounded = (view) => Object.fromEntries(Object.entries(view).map(([key, value]) => [key, value.toFixed(3)]));
