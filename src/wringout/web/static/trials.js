// @ts-check
// Trying techniques: what the hands do on a line of time, the flight that follows, a moment to look at, what if.

/** @typedef {{device: string, to: string, wait_s: number, gate: string}} Step */

/** @type {any} */
const uPlot = /** @type {any} */ (globalThis).uPlot;
const element = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const data = element("trial-data");
const about = JSON.parse(data.textContent || "{}");
const SVG = "http://www.w3.org/2000/svg";
const LEFT = 56;
const ROOM = { lane: 34, top: 8, end: 22 };
const LANES = ["power", "gear", "flaps"];
const PANELS = [
  { key: "height_ft", title: "height above the start, ft", tall: 150 },
  { key: "speed_kcas", title: "calibrated airspeed, kt", tall: 96 },
  { key: "stall_ratio", title: "V over stall speed", tall: 96, least: about.least_margin },
  { key: "pitch_deg", title: "pitch from the clean zero-lift line, deg", tall: 84 },
  { key: "flap_area_ft2", title: "drag area of the flaps, ft²", tall: 76 },
  { key: "gear_area_ft2", title: "drag area of the gear, ft²", tall: 76 },
];

/** @type {Step[]} */
let steps = [];
/** @type {Step[]} */
let against = [];
/** @type {any} */
let flown = null;
/** @type {any[]} */
const plots = [];
let moment = 0;

/** @param {string} name */
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#444";

/** @param {string} name @param {Record<string, string | number>} [attributes] @param {string} [words] */
function svg(name, attributes = {}, words = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  if (words) made.textContent = words;
  return made;
}

/** @param {string} words @param {() => void} press @param {string} [spoken] */
function button(words, press, spoken = "") {
  const made = Object.assign(document.createElement("button"), { type: "button", className: "quiet", textContent: words });
  if (spoken) made.setAttribute("aria-label", spoken);
  made.addEventListener("click", press);
  return made;
}

/** @param {string[]} choices @param {string} chosen @param {string} spoken @param {(value: string) => void} changed */
function choice(choices, chosen, spoken, changed) {
  const made = document.createElement("select");
  made.setAttribute("aria-label", spoken);
  for (const words of choices) made.append(new Option(words, words, false, words === chosen));
  made.addEventListener("change", () => changed(made.value));
  return made;
}

function conditions() {
  /** @type {Record<string, number>} */
  const turned = {};
  for (const knob of document.querySelectorAll("[data-knob]")) {
    const input = /** @type {HTMLInputElement} */ (knob);
    turned[input.dataset.knob || ""] = Number(input.value);
  }
  return turned;
}

let busy = false;
let again = false;
async function fly() {
  if (busy) {
    again = true;
    return;
  }
  busy = true;
  try {
    const answer = await fetch(data.dataset.fly, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ hand: steps, against, law: element("law").value, conditions: conditions() }),
    });
    const found = answer.ok ? await answer.json() : { problem: "The workbench refused; load the page again." };
    show(found);
  } catch {
    show({ problem: "The workbench does not answer; it may have been closed. What you arranged is still here." });
  } finally {
    busy = false;
    if (again) {
      again = false;
      void fly();
    }
  }
}

/** @param {any} found */
function show(found) {
  element("problem").hidden = !found.problem;
  element("problem").textContent = found.problem;
  if (found.problem) return;
  flown = found;
  element("benefit").textContent = found.benefit;
  element("scrub").max = String(found.trials[0].t_s.at(-1));
  drawPanels();
  drawLine();
  showScores();
  showMoments();
  lookAt(Math.min(moment, found.trials[0].t_s.at(-1)));
}

function drawPanels() {
  const [hand, other] = flown.trials;
  PANELS.forEach((panel, i) => {
    const series = [hand.t_s, hand[panel.key], other[panel.key]];
    if (plots[i]) {
      plots[i].setData(series);
      return;
    }
    const box = document.createElement("div");
    box.className = "panel";
    box.append(Object.assign(document.createElement("p"), { className: "name", textContent: panel.title }));
    element("panels").append(box);
    plots.push(new uPlot(options(panel, i === PANELS.length - 1), series, box));
  });
}

/** @param {any} panel @param {boolean} last */
function options(panel, last) {
  const grid = { stroke: () => colour("--hair"), width: 1 };
  return {
    width: element("panels").clientWidth,
    height: panel.tall + (last ? 24 : 0),
    padding: [8, 8, 0, 0],
    legend: { show: false },
    cursor: { sync: { key: "trials", setSeries: false }, drag: { x: false, y: false } },
    scales: { x: { time: false }, y: panel.least ? { range: (/** @type {any} */ _, /** @type {number} */ low, /** @type {number} */ high) => [Math.min(low, panel.least) - 0.04, high + 0.05] } : {} },
    axes: [
      { show: last, size: 24, stroke: () => colour("--quiet"), grid, values: (/** @type {any} */ _, /** @type {number[]} */ at) => at.map((t) => `${t} s`) },
      { size: LEFT, stroke: () => colour("--quiet"), grid, space: 26 },
    ],
    series: [{}, { stroke: () => colour("--ink"), width: 2 }, { stroke: () => colour("--quiet"), width: 1.2, dash: [5, 4] }],
    hooks: {
      draw: [
        (/** @type {any} */ u) => {
          if (panel.least) rule(u, u.valToPos(panel.least, "y", true), true, "--margin");
          rule(u, u.valToPos(moment, "x", true), false, "--ink");
        },
      ],
      setCursor: [
        (/** @type {any} */ u) => {
          if (u.cursor.event && u.cursor.idx !== null && u.cursor.idx !== undefined) lookAt(u.data[0][u.cursor.idx]);
        },
      ],
    },
  };
}

/** @param {any} u @param {number} at @param {boolean} level @param {string} name */
function rule(u, at, level, name) {
  const { ctx, bbox } = u;
  const inside = level ? at >= bbox.top && at <= bbox.top + bbox.height : at >= bbox.left && at <= bbox.left + bbox.width;
  if (!inside) return;
  ctx.save();
  ctx.strokeStyle = colour(name);
  ctx.lineWidth = devicePixelRatio;
  ctx.beginPath();
  ctx.moveTo(level ? bbox.left : at, level ? at : bbox.top);
  ctx.lineTo(level ? bbox.left + bbox.width : at, level ? at : bbox.top + bbox.height);
  ctx.stroke();
  ctx.restore();
}

/** @param {number[]} t @param {number[]} values @param {number} at */
function valueAt(t, values, at) {
  const i = Math.min(Math.max(t.findIndex((time) => time >= at), 1), t.length - 1);
  const share = (at - t[i - 1]) / (t[i] - t[i - 1] || 1);
  return values[i - 1] + Math.min(Math.max(share, 0), 1) * (values[i] - values[i - 1]);
}

/** Show one moment: the drawing, the words, and the rule through all panels. @param {number} at */
function lookAt(at) {
  if (!flown) return;
  moment = at;
  const hand = flown.trials[0];
  const now = (/** @type {string} */ key) => valueAt(hand.t_s, hand[key], at);
  const gear = now("gear");
  const flap = now("flap_deg");
  const pitch = now("pitch_deg");
  element("craft").setAttribute("transform", `rotate(${(-pitch).toFixed(2)})`);
  element("flap-part").setAttribute("transform", `rotate(${(-flap).toFixed(1)} -13 5)`);
  element("nose-leg").setAttribute("transform", `rotate(${((1 - gear) * 95).toFixed(1)} 50 10)`);
  element("main-leg").setAttribute("transform", `rotate(${(-(1 - gear) * 88).toFixed(1)} -6 12)`);
  element("gear-legs").setAttribute("opacity", gear < 0.01 ? "0" : "1");
  element("scrub").value = String(at);
  const words =
    `${at.toFixed(1)} s: ${now("height_ft").toFixed(0)} ft, ${now("speed_kcas").toFixed(0)} kt, ` +
    `${now("climb_fpm").toFixed(0)} ft/min, V over stall speed ${now("stall_ratio").toFixed(2)}, ` +
    `flaps ${flap.toFixed(0)}°, gear ${gear > 0.99 ? "down" : gear < 0.01 ? "up" : "moving"}, pitch ${pitch.toFixed(1)}°`;
  element("now-words").textContent = words;
  element("scrub").setAttribute("aria-valuetext", words);
  for (const plot of plots) plot.redraw(false, false);
  placeMoment();
}

function placeMoment() {
  const rule_ = element("line").querySelector("#moment");
  if (!rule_ || !flown) return;
  const x = String(xOf(moment));
  rule_.setAttribute("x1", x);
  rule_.setAttribute("x2", x);
}

const longest = () => flown.trials[0].t_s.at(-1);
const wide = () => element("line").clientWidth - LEFT - 8;
const xOf = (/** @type {number} */ t) => LEFT + (t / longest()) * wide();

/** When each device moves, from the flight itself. @param {string} lane */
function travels(lane) {
  const hand = flown.trials[0];
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

function drawLine() {
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
  const every = longest() > 90 ? 60 : 10;
  for (let t = 0; t <= longest(); t += every) line.append(svg("text", { x: xOf(t), y: tall + 16, "text-anchor": "middle" }, `${t} s`));
  line.append(svg("line", { id: "moment", y1: 0, y2: tall, stroke: "var(--ink)", "stroke-width": 1 }));
  flown.trials[0].made_s.forEach((/** @type {number | null} */ at, /** @type {number} */ i) => line.append(lever(i, at)));
  placeMoment();
  if (focused !== null && focused !== undefined) line.querySelector(`[data-step="${focused}"]`)?.focus();
}

/** One lever's movement: drag it or use the arrow keys to wait longer or less. @param {number} i @param {number | null} at */
function lever(i, at) {
  const step = steps[i];
  const row = LANES.indexOf(step.device);
  const y = ROOM.top + (row + 0.5) * ROOM.lane;
  const x = at === null ? LEFT + wide() : xOf(at);
  const part = svg("g", { class: "lever", tabindex: 0, role: "slider", "data-step": i, "aria-valuemin": 0, "aria-valuemax": 60, "aria-valuenow": step.wait_s });
  const said = at === null ? "never made" : `made at ${at.toFixed(1)} s`;
  part.setAttribute("aria-label", `Step ${i + 1}, ${step.device} ${step.to}`);
  part.setAttribute("aria-valuetext", `waits ${step.wait_s.toFixed(1)} s, ${said}`);
  part.append(
    svg("rect", { x: x - 12, y: y - 16, width: 24, height: 32, fill: "transparent" }),
    svg("path", { d: `M${x},${y - 12} l7,12 l-7,12 l-7,-12 Z`, fill: "var(--paper)", stroke: `var(--${step.device})`, "stroke-width": 2.5 }),
    svg("text", { x: x + 9, y: y - 7 }, at === null ? `${step.to} (never)` : step.to),
  );
  part.addEventListener("keydown", (event) => {
    const by = { ArrowRight: 0.5, ArrowUp: 0.5, ArrowLeft: -0.5, ArrowDown: -0.5, PageUp: 5, PageDown: -5 }[/** @type {KeyboardEvent} */ (event).key];
    if (!by) return;
    event.preventDefault();
    wait(i, step.wait_s + by);
  });
  part.addEventListener("pointerdown", (event) => {
    const from = /** @type {PointerEvent} */ (event).clientX;
    const began = step.wait_s;
    const move = (/** @type {Event} */ moved) => {
      const by = ((/** @type {PointerEvent} */ (moved).clientX - from) / wide()) * longest();
      steps[i].wait_s = Math.round(Math.min(Math.max(began + by, 0), 60) * 10) / 10;
      void fly();
    };
    addEventListener("pointermove", move);
    addEventListener(
      "pointerup",
      () => {
        removeEventListener("pointermove", move);
        showSteps();
        void fly();
      },
      { once: true },
    );
  });
  return part;
}

/** @param {number} i @param {number} seconds */
function wait(i, seconds) {
  steps[i].wait_s = Math.round(Math.min(Math.max(seconds, 0), 60) * 10) / 10;
  showSteps();
  void fly();
}

function showSteps() {
  const list = element("steps");
  list.replaceChildren();
  steps.forEach((step, i) => {
    const line = document.createElement("li");
    const targets = step.device === "gear" ? ["up", "down"] : about.flaps;
    const changed = (/** @type {Partial<Step>} */ to) => {
      Object.assign(step, to);
      void fly();
    };
    const seconds = Object.assign(document.createElement("input"), { type: "number", min: "0", max: "60", step: "0.5", value: step.wait_s.toFixed(1) });
    seconds.setAttribute("aria-label", `Wait before step ${i + 1}, seconds`);
    seconds.addEventListener("change", () => wait(i, Number(seconds.value)));
    const gates = ["when its turn comes", "once climbing"];
    line.append(
      `${step.device} `,
      choice(targets, step.to, `Step ${i + 1}: where the ${step.device} go`, (to) => changed({ to })),
      ", ",
      seconds,
      i ? " s after the step before, " : " s after full power, ",
      choice(gates, step.gate ? gates[1] : gates[0], `Step ${i + 1}: what is waited for`, (gate) => changed({ gate: gate === gates[1] ? "positive climb" : "" })),
    );
    if (i) line.append(button("sooner", () => swap(i, i - 1), `Make step ${i + 1} sooner`));
    line.append(button("remove", () => edit(() => steps.splice(i, 1)), `Remove step ${i + 1}`));
    list.append(line);
  });
}

/** @param {() => void} change */
function edit(change) {
  change();
  showSteps();
  void fly();
}

/** @param {number} i @param {number} j */
function swap(i, j) {
  edit(() => {
    [steps[i], steps[j]] = [steps[j], steps[i]];
  });
}

function showScores() {
  const body = element("scores").tBodies[0];
  body.replaceChildren();
  const [hand, other] = flown.trials;
  const value = (/** @type {any} */ score) => (score.value === null ? "never" : `${score.value}${score.unit ? ` ${score.unit}` : ""}`);
  hand.scores.forEach((/** @type {any} */ score, /** @type {number} */ i) => {
    const row = body.insertRow();
    row.append(Object.assign(document.createElement("th"), { textContent: score.title, scope: "row" }));
    for (const one of [score, other.scores[i]]) row.append(Object.assign(document.createElement("td"), { textContent: value(one), className: "n" }));
  });
}

function showMoments() {
  const details = element("moments");
  if (!details.open) return;
  const hand = flown.trials[0];
  const table = document.createElement("table");
  const head = table.createTHead().insertRow();
  const columns = [["t_s", "s"], ["height_ft", "ft"], ["speed_kcas", "kt"], ["climb_fpm", "ft/min"], ["stall_ratio", "V/Vs"], ["flap_deg", "flap °"], ["gear", "gear"]];
  for (const [, words] of columns) head.append(Object.assign(document.createElement("th"), { textContent: words, className: "n" }));
  const body = table.createTBody();
  for (let i = 0; i < hand.t_s.length; i += 4) {
    const row = body.insertRow();
    for (const [key] of columns) row.append(Object.assign(document.createElement("td"), { textContent: String(hand[key][i]), className: "n" }));
  }
  details.querySelector(".table").replaceChildren(table);
}

/** @param {HTMLSelectElement} select @param {string} chosen */
function fillOrders(select, chosen) {
  for (const one of [...about.kept, ...about.known]) select.append(new Option(one.title, one.key, false, one.key === chosen));
}

/** @param {string} key @returns {any} */
const order = (key) => [...about.kept, ...about.known].find((one) => one.key === key) || about.known[0];
const copy = (/** @type {Step[]} */ list) => list.map((step) => ({ ...step }));

/** @param {any} one */
function take(one) {
  steps = copy(one.steps);
  element("title").value = one.title;
  const form = element("hand");
  form.elements.key.value = one.revision ? one.key : "";
  form.elements.revision.value = one.revision || "";
  showSteps();
}

function showKnobs() {
  for (const knob of document.querySelectorAll("[data-knob]")) {
    const input = /** @type {HTMLInputElement} */ (knob);
    const output = /** @type {HTMLOutputElement} */ (input.parentElement?.querySelector("output"));
    const places = (input.step.replace(/\.0$/, "").split(".")[1] || "").length;
    output.textContent = `${Number(input.value).toFixed(places)} ${input.dataset.unit}`;
    input.setAttribute("aria-valuetext", output.textContent);
  }
}

function wire() {
  element("begin").addEventListener("change", () => {
    take(order(element("begin").value));
    void fly();
  });
  element("against").addEventListener("change", () => {
    against = copy(order(element("against").value).steps);
    void fly();
  });
  element("law").addEventListener("change", () => void fly());
  element("add-gear")?.addEventListener("click", () => edit(() => steps.push({ device: "gear", to: "up", wait_s: 0, gate: "" })));
  element("add-flaps").addEventListener("click", () => edit(() => steps.push({ device: "flaps", to: "up", wait_s: 0, gate: "" })));
  element("scrub").addEventListener("input", () => lookAt(Number(element("scrub").value)));
  element("moments").addEventListener("toggle", showMoments);
  element("hand").addEventListener("submit", () => {
    element("hand").elements.steps.value = JSON.stringify(steps);
  });
  for (const knob of document.querySelectorAll("[data-knob]")) {
    knob.addEventListener("input", () => {
      showKnobs();
      void fly();
    });
  }
  element("as-usual").addEventListener("click", () => {
    for (const knob of document.querySelectorAll("[data-knob]")) {
      /** @type {HTMLInputElement} */ (knob).value = /** @type {HTMLInputElement} */ (knob).dataset.usual || "";
    }
    showKnobs();
    void fly();
  });
  for (const kept of document.querySelectorAll("[data-kept]")) {
    kept.addEventListener("click", () => {
      take(order(kept.getAttribute("data-kept") || ""));
      void fly();
    });
  }
  const redraw = () => {
    plots.splice(0).forEach((plot) => plot.destroy());
    element("panels").replaceChildren();
    if (flown) show(flown);
  };
  document.addEventListener("theme-changed", redraw);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  new ResizeObserver(() => {
    plots.forEach((plot) => plot.setSize({ width: element("panels").clientWidth, height: plot.height }));
    if (flown) drawLine();
  }).observe(element("panels"));
}

const wanted = new URLSearchParams(location.search).get("kept") || "";
fillOrders(element("begin"), wanted);
fillOrders(element("against"), (about.known[1] || about.known[0]).key);
take(order(wanted || about.known[0].key));
against = copy(order(element("against").value).steps);
wire();
showKnobs();
void fly();

export {};
