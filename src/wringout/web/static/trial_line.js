// @ts-check
// The line of time: when each lever moves and how long each device travels; levers are dragged or moved by the keyboard.

import { quantity } from "./numbers.js";
import { LONGEST_WAIT, desk, element, waitOf } from "./trial_desk.js";

const SVG = "http://www.w3.org/2000/svg";
const LEFT = 56;
const ROOM = { lane: 36, top: 8, end: 22 };
const LANES = ["power", "gear", "flaps"];

/** @type {{moving: () => void, moved: () => void}} */
let told = { moving: () => {}, moved: () => {} };

/** @param {() => void} moving while a lever is dragged @param {() => void} moved when it stays */
export function onLever(moving, moved) {
  told = { moving, moved };
}

/** @param {string} name @param {Record<string, string | number>} [attributes] @param {string} [words] */
function svg(name, attributes = {}, words = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  if (words) made.textContent = words;
  return made;
}

const longest = () => desk.flown.trials[0].t_s.at(-1);
const wide = () => element("line").clientWidth - LEFT - 16;
const xOf = (/** @type {number} */ t) => LEFT + (t / longest()) * wide();

/** When each device moves, from the flight itself. @param {string} lane */
function travels(lane) {
  const hand = desk.flown.trials[0];
  const key = { power: "power", gear: "gear", flaps: "flap_deg" }[lane] || "";
  const values = hand[key];
  const still = 1e-3 * Math.max(...values.map(Math.abs), 1e-9);
  /** @type {[number, number][]} */
  const found = [];
  for (let i = 1; i < values.length; i += 1) {
    if (Math.abs(values[i] - values[i - 1]) <= still) continue;
    const open = found.at(-1);
    if (open && open[1] >= hand.t_s[i - 1] - 1e-6) open[1] = hand.t_s[i];
    else found.push([hand.t_s[i - 1], hand.t_s[i]]);
  }
  return found;
}

export function drawLine() {
  const line = element("line");
  const focused = document.activeElement?.getAttribute("data-step");
  const tall = ROOM.top + LANES.length * ROOM.lane;
  line.setAttribute("viewBox", `0 0 ${line.clientWidth} ${tall + ROOM.end}`);
  line.style.height = `${tall + ROOM.end}px`;
  line.replaceChildren();
  LANES.forEach((lane, row) => {
    const y = ROOM.top + (row + 0.5) * ROOM.lane;
    line.append(svg("text", { x: 0, y: y + 4 }, lane), svg("line", { x1: LEFT, x2: LEFT + wide(), y1: y, y2: y, stroke: "var(--hair)" }));
    for (const [from, to] of travels(lane)) {
      line.append(svg("line", { x1: xOf(from), x2: xOf(to), y1: y, y2: y, stroke: `var(--${lane})`, "stroke-width": 7, "stroke-linecap": "butt" }));
    }
  });
  const every = longest() > 90 ? 60 : line.clientWidth < 420 ? 20 : 10;
  for (let t = 0; t <= longest(); t += every) line.append(svg("text", { x: xOf(t), y: tall + 16, "text-anchor": "middle" }, `${t} s`));
  line.append(svg("line", { id: "moment", y1: 0, y2: tall, stroke: "var(--ink)", "stroke-width": 1 }));
  desk.flown.trials[0].made_s.forEach((/** @type {number | null} */ at, /** @type {number} */ i) => {
    if (desk.steps[i]) line.append(lever(i, at));
  });
  placeMoment();
  if (focused !== null && focused !== undefined) line.querySelector(`[data-step="${focused}"]`)?.focus();
}

export function placeMoment() {
  const rule = element("line").querySelector("#moment");
  if (!rule || !desk.flown) return;
  const x = String(xOf(desk.moment));
  rule.setAttribute("x1", x);
  rule.setAttribute("x2", x);
}

/** One lever's movement: drag it or use the arrow keys to wait longer or less. @param {number} i @param {number | null} at */
function lever(i, at) {
  const step = desk.steps[i];
  const y = ROOM.top + (LANES.indexOf(step.device) + 0.5) * ROOM.lane;
  const x = at === null ? LEFT + wide() : xOf(at);
  const part = svg("g", { class: "lever", tabindex: 0, role: "slider", "data-step": i, "aria-valuemin": 0, "aria-valuemax": LONGEST_WAIT, "aria-valuenow": step.wait_s });
  const said = at === null ? "never made" : `made at ${quantity(at, "s", 1)}`;
  part.setAttribute("aria-label", `Step ${i + 1}, ${step.device} ${step.to}`);
  part.setAttribute("aria-valuetext", `waits ${quantity(step.wait_s, "s", 1)}, ${said}`);
  const late = x > LEFT + 0.8 * wide();
  part.append(
    svg("rect", { x: x - 12, y: y - 16, width: 24, height: 32, fill: "transparent" }),
    svg("path", { d: `M${x},${y - 12} l7,12 l-7,12 l-7,-12 Z`, fill: "var(--paper)", stroke: `var(--${step.device})`, "stroke-width": 2.5 }),
    svg("text", { x: x + (late ? -9 : 9), y: y - 8, "text-anchor": late ? "end" : "start" }, at === null ? `${step.to} (never)` : step.to),
  );
  part.addEventListener("keydown", (event) => {
    const by = { ArrowRight: 0.5, ArrowUp: 0.5, ArrowLeft: -0.5, ArrowDown: -0.5, PageUp: 5, PageDown: -5 }[/** @type {KeyboardEvent} */ (event).key];
    if (!by) return;
    event.preventDefault();
    desk.steps[i].wait_s = waitOf(step.wait_s + by);
    told.moved();
  });
  part.addEventListener("pointerdown", (event) => drag(i, /** @type {PointerEvent} */ (event).clientX));
  return part;
}

/** @param {number} i @param {number} from */
function drag(i, from) {
  const began = desk.steps[i].wait_s;
  const move = (/** @type {Event} */ moved) => {
    const by = ((/** @type {PointerEvent} */ (moved).clientX - from) / wide()) * longest();
    desk.steps[i].wait_s = waitOf(began + by);
    told.moving();
  };
  const end = () => {
    removeEventListener("pointermove", move);
    removeEventListener("pointerup", end);
    removeEventListener("pointercancel", end);
    told.moved();
  };
  addEventListener("pointermove", move);
  addEventListener("pointerup", end);
  addEventListener("pointercancel", end);
}
