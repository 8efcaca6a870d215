// @ts-check
// A trial in words: the moment that is looked at with its side view, the scores beside each other, the flight as a table.

import { quantity, shown } from "./numbers.js";
import { cell } from "./theme.js";
import { desk, element, valueAt } from "./trial_desk.js";

const EVERY = 4;
const COLUMNS = [
  ["t_s", "s", 1],
  ["height", "", 0],
  ["speed", "", 1],
  ["climb", "", 0],
  ["stall_ratio", "V/Vs", 2],
  ["flap_deg", "flaps, °", 0],
  ["gear", "gear", 2],
];

/** Turn the drawing to the moment and say it. */
export function showMoment() {
  const { trials, units } = desk.flown;
  const hand = trials[0];
  const now = (/** @type {string} */ key) => valueAt(hand.t_s, hand[key], desk.moment);
  const [gear, flap, pitch] = [now("gear"), now("flap_deg"), now("pitch_deg")];
  element("craft").setAttribute("transform", `rotate(${(-pitch).toFixed(2)})`);
  element("flap-part").setAttribute("transform", `rotate(${(-flap).toFixed(1)} -13 5)`);
  element("nose-leg").setAttribute("transform", `rotate(${((1 - gear) * 95).toFixed(1)} 50 10)`);
  element("main-leg").setAttribute("transform", `rotate(${(-(1 - gear) * 88).toFixed(1)} -6 12)`);
  element("gear-legs").setAttribute("opacity", gear < 0.01 ? "0" : "1");
  const words = [
    `${quantity(desk.moment, "s", 1)}: ${quantity(now("height"), units.height)}`,
    quantity(now("speed"), units.speed),
    quantity(now("climb"), units.climb, units.climb === "m/s" ? 1 : 0),
    `V over stall speed ${shown(now("stall_ratio"), 2)}`,
    `flaps ${quantity(flap, "°")}`,
    `gear ${gear > 0.99 ? "down" : gear < 0.01 ? "up" : "moving"}`,
    `pitch ${quantity(pitch, "°", 1)}`,
  ].join(", ");
  element("now-words").textContent = words;
  element("scrub").value = String(desk.moment);
  element("scrub").setAttribute("aria-valuetext", words);
}

/** Every score of every flight, one column each. */
export function showScores() {
  const trials = desk.flown.trials;
  const table = element("scores");
  const head = document.createElement("tr");
  head.append(cell("th", "Score"), ...trials.map((/** @type {any} */ trial, /** @type {number} */ i) => cell("th", i ? trial.title : "in hand", "n")));
  for (const part of head.children) part.setAttribute("scope", "col");
  table.tHead.replaceChildren(head);
  table.tBodies[0].replaceChildren(
    ...trials[0].scores.map((/** @type {any} */ score, /** @type {number} */ i) => {
      const row = document.createElement("tr");
      const title = cell("th", score.title);
      title.scope = "row";
      row.append(title);
      trials.forEach((/** @type {any} */ trial, /** @type {number} */ j) => {
        const found = trial.scores[i];
        const said = cell("td", found.value === null ? "never" : quantity(found.value, found.unit === "deg" ? "°" : found.unit, found.places), "n");
        said.dataset.of = j ? trial.title : "in hand";
        row.append(said);
      });
      return row;
    }),
  );
}

/** The flight in hand, every few moments, while its table is open. */
export function showMoments() {
  const details = element("moments");
  if (!details.open || !desk.flown) return;
  const hand = desk.flown.trials[0];
  const table = document.createElement("table");
  const head = table.createTHead().insertRow();
  for (const [key, words] of COLUMNS) head.append(cell("th", String(words || desk.flown.units[key]), "n"));
  const body = table.createTBody();
  for (let i = 0; i < hand.t_s.length; i += EVERY) {
    const row = body.insertRow();
    for (const [key, , places] of COLUMNS) row.append(cell("td", shown(hand[key][i], desk.flown.units[key] === "m/s" ? 1 : Number(places)), "n"));
  }
  details.querySelector(".table").replaceChildren(table);
}
