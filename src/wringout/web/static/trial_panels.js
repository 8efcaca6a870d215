// @ts-check
// The flights as panels on one clock: the one in hand in ink, the others thinner, each with its own broken line.

import { colour, paragraph } from "./theme.js";
import { about, desk, element } from "./trial_desk.js";

/** @type {any} */
const uPlot = /** @type {any} */ (globalThis).uPlot;
const LEFT = 56;
const RIGHT = 16;
const PANELS = [
  { key: "height", title: "height above the start", tall: 136 },
  { key: "speed", title: "calibrated airspeed", tall: 86, span: 10 },
  { key: "stall_ratio", title: "V over stall speed", tall: 86, span: 0.3, least: about.least_margin },
  { key: "energy_height", title: "energy height above the start", tall: 86 },
  { key: "pitch_deg", title: "pitch from the clean zero-lift line, °", tall: 72, span: 5 },
  { key: "flap_area", title: "drag area of the flaps", tall: 64, thing: "--flaps" },
  { key: "gear_area", title: "drag area of the gear", tall: 64, thing: "--gear" },
];
/** Of the flight in hand, of the one it is held against, of those drawn beside them. */
export const LINES = [
  { ink: "--ink", width: 2, dash: [] },
  { ink: "--quiet", width: 1.4, dash: [6, 4] },
  { ink: "--quiet", width: 1.4, dash: [1.5, 3] },
  { ink: "--quiet", width: 1.4, dash: [10, 3, 2, 3] },
];

/** @type {any[]} */
const plots = [];
/** @type {(at: number) => void} */
let moved = () => {};

/** @param {(at: number) => void} pointedAt called with the moment a pointer is over */
export function onMoment(pointedAt) {
  moved = pointedAt;
}

/** Draw what was flown; panels that are there already only take the new numbers. */
export function drawPanels() {
  const { trials, units } = desk.flown;
  if (plots.length && plots[0].series.length !== trials.length + 1) forgetPanels();
  PANELS.forEach((panel, i) => {
    const series = [trials[0].t_s, ...trials.map((/** @type {any} */ trial) => trial[panel.key])];
    if (plots[i]) {
      plots[i].setData(series);
      return;
    }
    const box = document.createElement("div");
    box.className = "panel";
    box.append(paragraph(units[panel.key] ? `${panel.title}, ${units[panel.key]}` : panel.title, "name"));
    element("panels").append(box);
    plots.push(new uPlot(options(panel, i === PANELS.length - 1, trials.length), series, box));
  });
  drawKey(trials);
}

export function forgetPanels() {
  plots.splice(0).forEach((plot) => plot.destroy());
  element("panels").replaceChildren();
}

export function markMoment() {
  for (const plot of plots) plot.redraw(false, false);
}

export function fitPanels() {
  plots.forEach((plot) => plot.setSize({ width: element("panels").clientWidth, height: plot.height }));
}

/** @param {any} panel @param {boolean} last @param {number} flights */
function options(panel, last, flights) {
  const grid = { stroke: () => colour("--hair"), width: 1 };
  const lines = LINES.slice(0, flights).map((line, i) => ({
    stroke: () => colour(i === 0 && panel.thing ? panel.thing : line.ink),
    width: line.width,
    dash: line.dash,
    points: { show: false },
  }));
  /** Room around the lines, and never so little that a small change looks large. @param {any} _ @param {number} low @param {number} high */
  const roomy = (_, low, high) => {
    const bottom = panel.least ? Math.min(low, panel.least) : low;
    const span = Math.max(high - bottom, panel.span || (desk.flown.units[panel.key] === "m²" ? 0.1 : 1));
    return [bottom - 0.05 * span, Math.max(high + 0.07 * span, bottom + span)];
  };
  return {
    width: element("panels").clientWidth,
    height: panel.tall + (last ? 24 : 0),
    padding: [4, RIGHT, 0, 0],
    legend: { show: false },
    cursor: { sync: { key: "trials", setSeries: false }, drag: { x: false, y: false }, points: { size: 6 } },
    scales: { x: { time: false }, y: { range: roomy } },
    axes: [
      { show: last, size: 24, stroke: () => colour("--quiet"), grid, values: (/** @type {any} */ _, /** @type {number[]} */ at) => at.map((t) => `${t} s`) },
      { size: LEFT, stroke: () => colour("--quiet"), grid, space: 26 },
    ],
    series: [{}, ...lines],
    hooks: {
      draw: [
        (/** @type {any} */ u) => {
          if (panel.least) rule(u, u.valToPos(panel.least, "y", true), true, "--margin", `not below ${panel.least}`);
          rule(u, u.valToPos(desk.moment, "x", true), false, "--ink");
        },
      ],
      setCursor: [
        (/** @type {any} */ u) => {
          if (u.cursor.event && u.cursor.idx !== null && u.cursor.idx !== undefined) moved(u.data[0][u.cursor.idx]);
        },
      ],
    },
  };
}

/** @param {any} u @param {number} at @param {boolean} level @param {string} name @param {string} [words] */
function rule(u, at, level, name, words = "") {
  const { ctx, bbox } = u;
  const inside = level ? at >= bbox.top && at <= bbox.top + bbox.height : at >= bbox.left && at <= bbox.left + bbox.width;
  if (!inside) return;
  ctx.save();
  ctx.setLineDash([]);
  ctx.strokeStyle = colour(name);
  ctx.lineWidth = devicePixelRatio;
  ctx.beginPath();
  ctx.moveTo(level ? bbox.left : at, level ? at : bbox.top);
  ctx.lineTo(level ? bbox.left + bbox.width : at, level ? at : bbox.top + bbox.height);
  ctx.stroke();
  if (words) {
    ctx.fillStyle = colour("--quiet");
    ctx.font = `${11 * devicePixelRatio}px sans-serif`;
    ctx.textAlign = "right";
    ctx.fillText(words, bbox.left + bbox.width - 4 * devicePixelRatio, at - 4 * devicePixelRatio);
  }
  ctx.restore();
}

/** Say which line is which. @param {any[]} trials */
function drawKey(trials) {
  const key = element("lines");
  key.replaceChildren();
  trials.forEach((trial, i) => {
    const item = document.createElement("li");
    const line = LINES[i];
    const stroke = `stroke="var(${line.ink})" stroke-width="${line.width}" stroke-dasharray="${line.dash.join(" ")}"`;
    item.innerHTML = `<svg width="34" height="10" aria-hidden="true"><line x1="0" x2="34" y1="5" y2="5" ${stroke}/></svg> `;
    item.append(`${trial.title}${i === 0 ? ", in hand" : i === 1 ? ", held against" : ""}`);
    key.append(item);
  });
}
