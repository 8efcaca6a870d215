// @ts-check
// What lies on the desk while techniques are tried: the steps in hand, what they are held against, what was flown.

/** @typedef {{device: string, to: string, wait_s: number, gate: string}} Step */

export const element = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const source = element("trial-data");
export const about = JSON.parse(source.textContent || "{}");

/** @type {{steps: Step[], against: string, also: string[], flown: any, moment: number}} */
export const desk = { steps: [], against: "", also: ["", ""], flown: null, moment: 0 };

/** Steps may wait this long, s, and no longer. */
export const LONGEST_WAIT = 60;
const KEPT = "wringout-desk:" + location.pathname;

/** @param {string} key @returns {any} */
export const order = (key) => [...about.kept, ...about.known].find((one) => one.key === key);
export const copy = (/** @type {Step[]} */ list) => list.map((step) => ({ ...step }));
export const waitOf = (/** @type {number} */ seconds) => Math.round(Math.min(Math.max(seconds, 0), LONGEST_WAIT) * 10) / 10;

/** @returns {HTMLInputElement[]} */
export const knobs = () => [...document.querySelectorAll("input[data-knob]")].filter((knob) => knob instanceof HTMLInputElement);

export function conditions() {
  return Object.fromEntries(knobs().map((knob) => [knob.dataset.knob, Number(knob.value)]));
}

/** What is arranged stays in this window, also over a reload. */
export function keepArranged() {
  const kept = { steps: desk.steps, title: element("title").value, against: desk.against, also: desk.also, law: element("law").value, conditions: conditions() };
  try {
    sessionStorage.setItem(KEPT, JSON.stringify(kept));
  } catch {
    // This browser keeps nothing; what is arranged is still on the page.
  }
}

/** @returns {any} */
export function arranged() {
  try {
    return JSON.parse(sessionStorage.getItem(KEPT) || "null");
  } catch {
    return null;
  }
}

/** Fly what is on the desk. @returns {Promise<any>} */
export async function ask() {
  const others = desk.also.filter(Boolean).map((key) => order(key)?.steps ?? []);
  try {
    const answer = await fetch(source.dataset.fly, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ hand: desk.steps, against: order(desk.against)?.steps ?? [], others, law: element("law").value, conditions: conditions() }),
    });
    return answer.ok ? await answer.json() : { problem: "The workbench refused; load the page again." };
  } catch {
    return { problem: "The workbench does not answer; it may have been closed. What you arranged is still here." };
  }
}

/** Value of a flight at a moment, between its points. @param {number[]} t @param {number[]} values @param {number} at */
export function valueAt(t, values, at) {
  const i = Math.min(Math.max(t.findIndex((time) => time >= at), 1), t.length - 1);
  const share = (at - t[i - 1]) / (t[i] - t[i - 1] || 1);
  return values[i - 1] + Math.min(Math.max(share, 0), 1) * (values[i] - values[i - 1]);
}
