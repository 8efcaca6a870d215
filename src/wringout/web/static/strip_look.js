// @ts-check
// What a stretch would be as a run: the words of the fit as it was, and as it is with the ends moved.

import { quantity } from "./numbers.js";
import { cell, paragraph } from "./theme.js";

/** Show both in a place. @param {HTMLElement} place @param {any} before @param {any} after */
export function showLooked(place, before, after) {
  place.replaceChildren();
  if (after.problem) {
    place.append(paragraph(after.problem, "refusal"));
    return;
  }
  place.append(paragraph(`${after.title}. ${after.readings} readings.`));
  for (const words of after.exceedances) place.append(paragraph(words, "refusal"));
  place.append(table(before === after ? null : before, after));
}

/** @param {any} before @param {any} after */
function table(before, after) {
  const made = document.createElement("table");
  const head = made.createTHead().insertRow();
  for (const words of before ? ["what", "as it was", "trimmed"] : ["what", "this stretch"]) head.append(cell("th", words));
  const rows = made.createTBody();
  /** @param {string} name @param {(found: any) => string} value */
  const line = (name, value) => {
    const row = rows.insertRow();
    const title = cell("th", name);
    title.scope = "row";
    row.append(title);
    if (before) row.append(cell("td", value(before)));
    row.append(cell("td", value(after)));
  };
  line("readings", (found) => String(found.readings));
  line("read less fitted, rms", (found) => (found.scatter === null ? "no speeds" : quantity(found.scatter, found.unit, 2)));
  line("readings that do not belong", (found) => String(found.flagged));
  after.by_hand.forEach((/** @type {any} */ one, /** @type {number} */ i) => {
    line(`by hand: ${one.title}`, (found) => found.by_hand[i]?.value ?? "none");
  });
  return made;
}
