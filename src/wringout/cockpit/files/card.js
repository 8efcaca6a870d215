// @ts-check
/** What the page asks for: the points of a flight, each with its marks, the speeds expected, and what is timed. */

/**
 * @typedef {Object} Point
 * @property {string} key
 * @property {string} title
 * @property {string[]} marks  words of the marks, four to six
 * @property {string[]} timers  what is timed
 * @property {number} first_kt  speed expected at first
 * @property {number} step_kt  between two keys of the pad
 * @property {number} every_s  a reading is due this often; 0 for whenever
 * @property {string[]} stop  when to stop, in words
 */
/**
 * @typedef {Object} Card
 * @property {string} format
 * @property {string} flight
 * @property {string} title
 * @property {string} unit
 * @property {string} deliver  address that takes the taps, or ""
 * @property {string} key  what lets this device deliver, or ""
 * @property {Point[]} points
 */

/** @type {Point} */
const OPEN_POINT = {
  key: "open",
  title: "No card",
  marks: ["power set", "gear down", "gear down and locked", "flaps moving", "flaps full", "stable"],
  timers: ["flaps", "gear"],
  first_kt: 100,
  step_kt: 1,
  every_s: 6,
  stop: [],
};

/** @returns {Card} a card for a flight nobody planned */
export function openCard() {
  return {
    format: "wringout capture card, version 1",
    flight: "unplanned",
    title: "Unplanned flight",
    unit: "kt",
    deliver: "",
    key: "",
    points: [OPEN_POINT],
  };
}

/** Return the card in the page, or null when it holds none. @returns {Card | null} */
export function cardInPage() {
  const text = document.getElementById("card")?.textContent?.trim();
  if (!text) return null;
  const card = /** @type {Card} */ (JSON.parse(text));
  if (card.format !== "wringout capture card, version 1" || !card.points.length) return null;
  return card;
}

/**
 * Return the speeds on the pad's keys: around the last one called, a little more below it than above, since most runs slow down.
 * @param {number} last @param {number} step @param {number} keys @returns {number[]}
 */
export function padSpeeds(last, step, keys) {
  const above = Math.floor(keys / 3);
  const top = Math.round(last / step) * step + above * step;
  return Array.from({ length: keys }, (_, i) => top - i * step).map((speed) => Math.max(speed, 0));
}
