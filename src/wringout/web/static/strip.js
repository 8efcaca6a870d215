// @ts-check
// Strips of a recording: one uPlot a channel on one clock, a stretch with two ends to move, and what it would be as a run.

import { clock, quantity, shown } from "./numbers.js";
import { showLooked } from "./strip_look.js";
import { inkOf, paintBands, paintFits, paintMarks } from "./strip_paint.js";
import { StripPoints, nearestTo, placeOf } from "./strip_points.js";
import { cell, colour, onTheme, paragraph } from "./theme.js";

/** @type {any} */
const uPlot = /** @type {any} */ (globalThis).uPlot;
const place = /** @type {HTMLElement} */ (document.getElementById("strips"));
const about = JSON.parse(document.getElementById("strip-data")?.textContent || "{}");
const form = /** @type {HTMLFormElement} */ (document.getElementById("stretch"));
const looked = /** @type {HTMLElement} */ (document.getElementById("looked"));
const LEFT = 56;
const TALL = { first: 200, other: 78 };
const MOST_ROWS = 200;
const WHEEL_LINE_PX = 16;
/** How often the fit is asked for while an end is dragged, ms. */
const ASK_EVERY = 120;

/** @type {any[]} */
const plots = [];
/** @type {{from: number, to: number} | null} */
let stretch = null;
/** @type {any} what was looked at before the ends were moved */
let before = null;
/** @type {any} */
let after = null;
/** @type {Float64Array} */
let times = new Float64Array();
/** @type {StripPoints[]} */
let strips = [];
/** What is in view; every strip shows the same. */
let view = { min: 0, max: 1 };

/** @param {number} i */
function optionsOf(i) {
  const channel = about.channels[i];
  const first = i === 0;
  const last = i === about.channels.length - 1;
  return {
    width: place.clientWidth,
    height: (first ? TALL.first : TALL.other) + (last ? 24 : 0),
    padding: [4, 24, 0, 0],
    cursor: { sync: { key: "strips", setSeries: false }, drag: { x: true, y: false, setScale: false }, points: { size: 7 } },
    legend: { show: false },
    scales: { x: { time: false } },
    axes: [
      { show: last, size: 24, stroke: colour("--quiet"), grid: { stroke: colour("--hair"), width: 1 }, values: (/** @type {any} */ _, /** @type {number[]} */ at) => at.map(clock) },
      { size: LEFT, stroke: colour("--quiet"), grid: { stroke: colour("--hair"), width: 1 }, space: 28 },
    ],
    series: [{}, { stroke: inkOf(channel.quantity), width: 1.5, points: { show: times.length < 200, size: 5 }, spanGaps: times.length < 2000 }],
    hooks: {
      drawClear: [(/** @type {any} */ u) => paintBands(u, about, stretch, first)],
      draw: [
        (/** @type {any} */ u) => {
          paintMarks(u, about, first);
          if (channel.quantity === "ias") paintFits(u, before, after);
          if (first) placeEnds();
        },
      ],
      setSelect: [(/** @type {any} */ u) => selected(u)],
      setCursor: [(/** @type {any} */ u) => sayNow(u, i)],
    },
  };
}

/** @param {any} u @param {number} i */
function sayNow(u, i) {
  const now = place.children[i]?.querySelector(".now");
  if (!now) return;
  if (u.cursor.left === null || u.cursor.left < 0) {
    now.textContent = "";
    return;
  }
  const at = nearestTo(times, u.posToVal(u.cursor.left, "x"));
  const value = strips[i].values[at];
  now.textContent = Number.isNaN(value) ? "" : ` ${quantity(value, about.channels[i].unit, 1)} at ${clock(times[at])}`;
}

/** @param {any} u */
function selected(u) {
  if (u.select.width < 3) return;
  const from = u.posToVal(u.select.left, "x");
  const to = u.posToVal(u.select.left + u.select.width, "x");
  for (const plot of plots) plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
  field("replaces").value = "";
  before = null;
  setStretch(from, to, true);
}

/** @param {string} name */
function field(name) {
  return /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
}

/** @param {number} from @param {number} to @param {boolean} ask */
function setStretch(from, to, ask) {
  const low = times[0];
  const high = times[times.length - 1];
  const a = Math.min(Math.max(Math.min(from, to), low), high);
  const b = Math.min(Math.max(Math.max(from, to), low), high);
  stretch = { from: Math.round(a * 10) / 10, to: Math.round(b * 10) / 10 };
  field("from_s").value = String(stretch.from);
  field("to_s").value = String(stretch.to);
  redraw();
  showRows();
  if (ask) askSoon();
}

function redraw() {
  for (const plot of plots) plot.redraw(false, false);
  placeEnds();
}

/** @type {HTMLElement[]} */
const ends = ["from", "to"].map((which) => {
  const end = document.createElement("div");
  end.className = "end";
  end.tabIndex = 0;
  end.setAttribute("role", "slider");
  end.setAttribute("aria-label", which === "from" ? "Beginning of the stretch" : "End of the stretch");
  end.hidden = true;
  end.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1, PageDown: -10, PageUp: 10 }[event.key];
    if (!step || !stretch) return;
    event.preventDefault();
    moveEnd(which, (which === "from" ? stretch.from : stretch.to) + step);
    askSoon();
  });
  end.addEventListener("pointerdown", (event) => {
    end.setPointerCapture(event.pointerId);
    const move = (/** @type {PointerEvent} */ moved) => {
      const box = plots[0].over.getBoundingClientRect();
      moveEnd(which, plots[0].posToVal(moved.clientX - box.left, "x"));
      askWhileMoving();
    };
    end.addEventListener("pointermove", move);
    end.addEventListener(
      "pointerup",
      () => {
        end.removeEventListener("pointermove", move);
        askSoon();
      },
      { once: true },
    );
  });
  return end;
});

/** @param {string} which @param {number} to */
function moveEnd(which, to) {
  if (!stretch) return;
  if (which === "from") setStretch(Math.min(to, stretch.to - 0.5), stretch.to, false);
  else setStretch(stretch.from, Math.max(to, stretch.from + 0.5), false);
}

function placeEnds() {
  const u = plots[0];
  ends.forEach((end, i) => {
    const at = stretch && (i ? stretch.to : stretch.from);
    const inside = u && at !== null && at >= u.scales.x.min && at <= u.scales.x.max;
    end.hidden = !inside;
    if (!inside) return;
    end.style.left = `${LEFT + u.valToPos(at, "x")}px`;
    end.setAttribute("aria-valuemin", String(times[0]));
    end.setAttribute("aria-valuemax", String(times[times.length - 1]));
    end.setAttribute("aria-valuenow", String(at));
    end.setAttribute("aria-valuetext", clock(/** @type {number} */ (at)));
  });
}

/** @type {ReturnType<typeof setTimeout> | undefined} */
let soon;
function askSoon() {
  clearTimeout(soon);
  looked.removeAttribute("aria-busy");
  soon = setTimeout(() => void ask(), 250);
}

let askedAt = 0;
let waiting = false;
/** Ask while an end is on its way, one question at a time. */
function askWhileMoving() {
  if (waiting || performance.now() - askedAt < ASK_EVERY) return;
  looked.setAttribute("aria-busy", "true");
  void ask();
}

/** @type {AbortController | undefined} */
let asking;
async function ask() {
  if (!stretch) return;
  asking?.abort();
  asking = new AbortController();
  const body = { from_s: stretch.from, to_s: stretch.to, method: field("method").value, words: field("words").value };
  if (!looked.childElementCount) looked.textContent = "Looking at the stretch ...";
  askedAt = performance.now();
  waiting = true;
  try {
    const answer = await fetch(place.dataset.look || "", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
      signal: asking.signal,
    });
    if (!answer.ok) throw new Error("refused");
    after = await answer.json();
    if (!before) before = after.problem ? null : after;
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") return;
    after = { problem: "The stretch could not be looked at; the workbench may have been closed." };
  }
  waiting = false;
  showLooked(looked, before, after);
  redraw();
}

function showRows() {
  const details = /** @type {HTMLDetailsElement} */ (document.getElementById("rows"));
  const into = details.querySelector(".table");
  if (!details.open || !into) return;
  const table = document.createElement("table");
  const head = table.createTHead().insertRow();
  head.append(cell("th", "time"), ...about.channels.map((/** @type {any} */ c) => cell("th", c.unit ? `${c.title}, ${c.unit}` : c.title, "n")));
  const body = table.createTBody();
  const [first, end] = stretch ? [placeOf(times, stretch.from), placeOf(times, stretch.to + 1e-9)] : [0, times.length];
  for (let i = first; i < Math.min(end, first + MOST_ROWS); i += 1) {
    const row = body.insertRow();
    row.append(cell("td", clock(times[i])));
    for (const strip of strips) row.append(cell("td", Number.isNaN(strip.values[i]) ? "" : shown(strip.values[i], 1), "n"));
  }
  into.replaceChildren(table);
  if (end - first > MOST_ROWS) into.append(paragraph(`${shown(end - first - MOST_ROWS)} more rows follow; choose a shorter stretch.`));
}

/** Show a stretch of time in every strip. @param {number} min @param {number} max */
function zoom(min, max) {
  const low = Math.max(min, times[0]);
  const high = Math.min(max, times[times.length - 1]);
  if (high - low < 2) return;
  view = { min: low, max: high };
  showSoon();
}

let due = 0;
/** Draw once for each frame, however often it was asked. */
function showSoon() {
  if (!due) due = requestAnimationFrame(showView);
}

function showView() {
  due = 0;
  plots.forEach((plot, i) => {
    plot.batch(() => {
      plot.setData(strips[i].between(view.min, view.max, Math.max(plot.bbox.width / devicePixelRatio, 100)), false);
      plot.setScale("x", view);
    });
  });
}

/** @param {number} factor @param {number} [about_] */
function scaleBy(factor, about_ = undefined) {
  const at = about_ ?? (view.min + view.max) / 2;
  zoom(at - (at - view.min) * factor, at + (view.max - at) * factor);
}

/** @param {number} share */
function shiftBy(share) {
  const wide = view.max - view.min;
  const by = Math.max(Math.min(share * wide, times[times.length - 1] - view.max), times[0] - view.min);
  zoom(view.min + by, view.max + by);
}

/** Along the wheel moves through time, with Ctrl (or two fingers) it goes closer. @param {WheelEvent} event */
function wheel(event) {
  const along = event.shiftKey && !event.deltaX ? event.deltaY : event.deltaX;
  const box = plots[0].over.getBoundingClientRect();
  if (event.ctrlKey) {
    event.preventDefault();
    scaleBy(event.deltaY > 0 ? 1.25 : 0.8, plots[0].posToVal(event.clientX - box.left, "x"));
  } else if (along && Math.abs(along) >= Math.abs(event.shiftKey ? 0 : event.deltaY)) {
    event.preventDefault();
    shiftBy((along * (event.deltaMode ? WHEEL_LINE_PX : 1)) / box.width);
  }
}

/** @param {any} one @param {string} replaces */
function lookAt(one, replaces) {
  before = null;
  field("replaces").value = replaces;
  if (one.method) field("method").value = one.method;
  if (one.words) field("words").value = one.words;
  const from = one.from ?? times[0];
  const to = one.to ?? times[times.length - 1];
  setStretch(from, to, true);
  zoom(from - 0.4 * (to - from), to + 0.4 * (to - from));
  place.scrollIntoView({ block: "nearest" });
}

function wire() {
  /** @type {Record<string, () => void>} */
  const keys = {
    closer: () => scaleBy(0.5),
    wider: () => scaleBy(2),
    earlier: () => shiftBy(-0.5),
    later: () => shiftBy(0.5),
    whole: () => zoom(times[0], times[times.length - 1]),
    "to-stretch": () => stretch && zoom(stretch.from - 10, stretch.to + 10),
  };
  for (const [id, press] of Object.entries(keys)) document.getElementById(id)?.addEventListener("click", press);
  place.addEventListener("wheel", wheel, { passive: false });
  for (const button of document.querySelectorAll("[data-look-at]")) {
    const number = Number(button.getAttribute("data-look-at"));
    button.addEventListener("click", () => lookAt(about.offered.find((/** @type {any} */ one) => one.number === number), ""));
  }
  for (const button of document.querySelectorAll("[data-trim]")) {
    const key = button.getAttribute("data-trim") || "";
    button.addEventListener("click", () => lookAt(about.runs.find((/** @type {any} */ run) => run.key === key), key));
  }
  for (const name of ["from_s", "to_s"]) {
    field(name).addEventListener("change", () => setStretch(Number(field("from_s").value), Number(field("to_s").value), true));
  }
  for (const name of ["method", "words"]) field(name).addEventListener("change", askSoon);
  document.getElementById("rows")?.addEventListener("toggle", showRows);
  onTheme(draw);
  new ResizeObserver(() => {
    plots.forEach((plot) => plot.setSize({ width: place.clientWidth, height: plot.height }));
    showSoon();
  }).observe(place);
}

function draw() {
  plots.splice(0).forEach((plot) => plot.destroy());
  place.replaceChildren();
  about.channels.forEach((/** @type {any} */ channel, /** @type {number} */ i) => {
    const lane = document.createElement("div");
    lane.className = "lane";
    const name = paragraph(channel.unit ? `${channel.title}, ${channel.unit}` : channel.title, "name");
    name.append(Object.assign(document.createElement("span"), { className: "now" }));
    lane.append(name);
    place.append(lane);
    plots.push(new uPlot(optionsOf(i), strips[i].between(view.min, view.max, place.clientWidth), lane));
  });
  place.append(...ends);
  showView();
  placeEnds();
}

/** The run or suggestion that the address names, else the first suggestion nobody has answered. */
function first() {
  const wanted = new URLSearchParams(location.search).get("run");
  const run = about.runs.find((/** @type {any} */ one) => one.key === wanted);
  const open = about.offered.find((/** @type {any} */ one) => one.state === "open");
  if (field("from_s").value) setStretch(Number(field("from_s").value), Number(field("to_s").value), true);
  else if (run) lookAt(run, run.key);
  else if (open) lookAt(open, "");
}

async function begin() {
  const answer = await fetch(place.dataset.numbers || "");
  if (!answer.ok) throw new Error("the numbers did not come");
  const bytes = await answer.arrayBuffer();
  times = new Float64Array(bytes, 0, about.rows);
  strips = about.channels.map(
    (/** @type {any} */ _, /** @type {number} */ i) => new StripPoints(times, new Float32Array(bytes, 8 * about.rows + 4 * about.rows * i, about.rows)),
  );
  view = { min: times[0], max: times[times.length - 1] };
  draw();
  wire();
  first();
}

begin().catch((error) => {
  place.textContent = `The strips could not be drawn (${error.message}); load the page again.`;
});

export {};
