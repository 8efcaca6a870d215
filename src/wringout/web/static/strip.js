// @ts-check
// Strips of a recording: one uPlot a channel on one clock, a stretch with two ends to move, and what it would be as a run.

/** @type {any} */
const uPlot = /** @type {any} */ (globalThis).uPlot;
const place = /** @type {HTMLElement} */ (document.getElementById("strips"));
const about = JSON.parse(document.getElementById("strip-data")?.textContent || "{}");
const form = /** @type {HTMLFormElement} */ (document.getElementById("stretch"));
const looked = /** @type {HTMLElement} */ (document.getElementById("looked"));
const LEFT = 56;
const TALL = { first: 210, other: 92 };
const MOST_ROWS = 200;

/** @type {any[]} */
const plots = [];
/** @type {{from: number, to: number} | null} */
let stretch = null;
/** @type {any} what was looked at before the ends were moved */
let before = null;
/** @type {any} */
let after = null;
/** @type {number[]} */
let times = [];
/** @type {Float32Array[]} */
let values = [];

/** @param {string} name */
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#444";

/** @param {string} quantity */
function inkOf(quantity) {
  if (quantity === "gear") return colour("--gear");
  if (quantity === "flap") return colour("--flaps");
  if (["power", "manifold_pressure", "rpm"].includes(quantity)) return colour("--power");
  return colour("--ink");
}

/** @param {number} seconds */
function clock(seconds) {
  const whole = Math.round(Math.abs(seconds));
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  const text = hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
  return seconds < 0 ? `-${text}` : text;
}

/** Paint runs, suggestions and the stretch behind the lines. @param {any} u @param {boolean} first */
function paintBands(u, first) {
  const { ctx, bbox } = u;
  const ratio = devicePixelRatio;
  /** @param {number} from @param {number} to @param {string} fill @param {string} words @param {number} row */
  const band = (from, to, fill, words, row) => {
    const x0 = Math.max(u.valToPos(from, "x", true), bbox.left);
    const x1 = Math.min(u.valToPos(to, "x", true), bbox.left + bbox.width);
    if (x1 <= x0) return;
    ctx.fillStyle = fill;
    ctx.fillRect(x0, bbox.top, x1 - x0, bbox.height);
    if (first && words && x1 - x0 > 14 * ratio) {
      ctx.fillStyle = colour("--ink");
      ctx.font = `600 ${11 * ratio}px sans-serif`;
      ctx.save();
      ctx.beginPath();
      ctx.rect(x0, bbox.top, x1 - x0, bbox.height);
      ctx.clip();
      ctx.fillText(words, x0 + 3 * ratio, bbox.top + bbox.height - (4 + 13 * row) * ratio);
      ctx.restore();
    }
  };
  ctx.save();
  for (const one of about.offered) if (one.state === "open") band(one.from, one.to, colour("--wash"), one.kind, 1);
  for (const run of about.runs) band(run.from, run.to, colour("--hair"), run.key, 0);
  if (stretch) {
    ctx.globalAlpha = 0.16;
    band(stretch.from, stretch.to, colour("--ink"), "", 0);
    ctx.globalAlpha = 1;
  }
  ctx.restore();
}

/** Paint marks as thin lines, with their words where there is room. @param {any} u @param {boolean} first */
function paintMarks(u, first) {
  const { ctx, bbox } = u;
  const ratio = devicePixelRatio;
  let free = -Infinity;
  ctx.save();
  ctx.strokeStyle = colour("--quiet");
  ctx.fillStyle = colour("--quiet");
  ctx.lineWidth = ratio;
  ctx.setLineDash([3 * ratio, 3 * ratio]);
  ctx.font = `${11 * ratio}px sans-serif`;
  for (const mark of about.marks) {
    const x = u.valToPos(mark.at, "x", true);
    if (x < bbox.left || x > bbox.left + bbox.width) continue;
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
    const wide = ctx.measureText(mark.label).width;
    if (first && x > free && x + wide < bbox.left + bbox.width) {
      ctx.fillText(mark.label, x + 3 * ratio, bbox.top + 28 * ratio);
      free = x + wide + 10 * ratio;
    }
  }
  ctx.restore();
}

/** Paint the fit of the stretch: before the ends were moved as a thin line, after as a heavy one. @param {any} u */
function paintFits(u) {
  /** @param {any} found @param {number} width @param {number[]} dash */
  const line = (found, width, dash) => {
    if (!found?.time_s?.length) return;
    const { ctx } = u;
    ctx.save();
    ctx.beginPath();
    ctx.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    ctx.clip();
    ctx.strokeStyle = colour("--margin");
    ctx.lineWidth = width * devicePixelRatio;
    ctx.setLineDash(dash.map((part) => part * devicePixelRatio));
    ctx.beginPath();
    found.time_s.forEach((/** @type {number} */ at, /** @type {number} */ i) => {
      if (found.fitted[i] === null) return;
      ctx.lineTo(u.valToPos(at, "x", true), u.valToPos(found.fitted[i], "y", true));
    });
    ctx.stroke();
    ctx.restore();
  };
  line(before, 1, [4, 3]);
  line(after, 2.5, []);
}

/** @param {number} i */
function optionsOf(i) {
  const channel = about.channels[i];
  const first = i === 0;
  const last = i === about.channels.length - 1;
  return {
    width: place.clientWidth,
    height: (first ? TALL.first : TALL.other) + (last ? 24 : 0),
    padding: [6, 8, 0, 0],
    cursor: { sync: { key: "strips", setSeries: false }, drag: { x: true, y: false, setScale: false }, points: { size: 7 } },
    legend: { show: false },
    scales: { x: { time: false } },
    axes: [
      { show: last, size: 24, stroke: colour("--quiet"), grid: { stroke: colour("--hair"), width: 1 }, values: (/** @type {any} */ _, /** @type {number[]} */ at) => at.map(clock) },
      { size: LEFT, stroke: colour("--quiet"), grid: { stroke: colour("--hair"), width: 1 }, space: 28 },
    ],
    series: [{}, { stroke: inkOf(channel.quantity), width: 1.5, points: { show: times.length < 200, size: 5 }, spanGaps: times.length < 2000 }],
    hooks: {
      drawClear: [(/** @type {any} */ u) => paintBands(u, first)],
      draw: [
        (/** @type {any} */ u) => {
          paintMarks(u, first);
          if (channel.quantity === "ias") paintFits(u);
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
  const at = u.cursor.idx;
  const now = place.children[i]?.querySelector(".now");
  if (!now) return;
  const value = at === null || at === undefined ? NaN : values[i][at];
  now.textContent = Number.isFinite(value) ? ` ${value.toFixed(1)} ${about.channels[i].unit} at ${clock(times[at])}` : "";
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
  soon = setTimeout(() => void ask(), 250);
}

/** @type {AbortController | undefined} */
let asking;
async function ask() {
  if (!stretch) return;
  asking?.abort();
  asking = new AbortController();
  const body = { from_s: stretch.from, to_s: stretch.to, method: field("method").value, words: field("words").value };
  looked.textContent = "Looking at the stretch ...";
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
  showLooked();
  redraw();
}

function showLooked() {
  looked.replaceChildren();
  if (after.problem) {
    looked.append(paragraph(after.problem, "refusal"));
    return;
  }
  looked.append(paragraph(`${after.title}. ${after.readings} readings.`));
  for (const words of after.exceedances) looked.append(paragraph(words, "refusal"));
  const both = before && before !== after;
  const table = document.createElement("table");
  const head = table.createTHead().insertRow();
  for (const words of both ? ["", "as it was", "trimmed"] : ["", "this stretch"]) head.append(cell("th", words));
  const rows = table.createTBody();
  /** @param {string} name @param {(found: any) => string} value */
  const line = (name, value) => {
    const row = rows.insertRow();
    row.append(cell("th", name));
    if (both) row.append(cell("td", value(before)));
    row.append(cell("td", value(after)));
  };
  line("readings", (found) => String(found.readings));
  line("read less fitted, rms", (found) => (found.scatter === null ? "no speeds" : `${found.scatter} ${found.unit}`));
  line("readings that do not belong", (found) => String(found.flagged));
  after.by_hand.forEach((/** @type {any} */ one, /** @type {number} */ i) => {
    line(`by hand: ${one.title}`, (found) => found.by_hand[i]?.value ?? "none");
  });
  looked.append(table);
}

/** @param {string} words @param {string} [kind] */
function paragraph(words, kind = "") {
  return Object.assign(document.createElement("p"), { textContent: words, className: kind });
}

/** @param {"td" | "th"} kind @param {string} words */
function cell(kind, words) {
  return Object.assign(document.createElement(kind), { textContent: words });
}

function showRows() {
  const details = /** @type {HTMLDetailsElement} */ (document.getElementById("rows"));
  const into = details.querySelector(".table");
  if (!details.open || !into) return;
  const table = document.createElement("table");
  const head = table.createTHead().insertRow();
  head.append(cell("th", "time"), ...about.channels.map((/** @type {any} */ c) => cell("th", `${c.title}, ${c.unit}`)));
  const body = table.createTBody();
  const inside = times.flatMap((at, i) => (!stretch || (at >= stretch.from && at <= stretch.to) ? [i] : []));
  for (const i of inside.slice(0, MOST_ROWS)) {
    const row = body.insertRow();
    row.append(cell("td", clock(times[i])), ...values.map((v) => cell("td", Number.isFinite(v[i]) ? v[i].toFixed(1) : "")));
  }
  into.replaceChildren(table);
  if (inside.length > MOST_ROWS) into.append(paragraph(`${inside.length - MOST_ROWS} more rows follow; choose a shorter stretch.`));
}

/** @param {number} min @param {number} max */
function zoom(min, max) {
  const low = Math.max(min, times[0]);
  const high = Math.min(max, times[times.length - 1]);
  if (high - low < 2) return;
  for (const plot of plots) plot.setScale("x", { min: low, max: high });
}

/** @param {number} factor @param {number} [about_] */
function scaleBy(factor, about_ = undefined) {
  const { min, max } = plots[0].scales.x;
  const at = about_ ?? (min + max) / 2;
  zoom(at - (at - min) * factor, at + (max - at) * factor);
}

/** @param {number} share */
function shiftBy(share) {
  const { min, max } = plots[0].scales.x;
  const by = Math.max(Math.min(share * (max - min), times[times.length - 1] - max), times[0] - min);
  for (const plot of plots) plot.setScale("x", { min: min + by, max: max + by });
}

/** @param {any} one @param {string} replaces */
function lookAt(one, replaces) {
  before = null;
  field("replaces").value = replaces;
  if (one.method) field("method").value = one.method;
  if (one.words) field("words").value = one.words;
  setStretch(one.from, one.to, true);
  const wide = one.to - one.from;
  zoom(one.from - 0.4 * wide, one.to + 0.4 * wide);
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
  place.addEventListener(
    "wheel",
    (event) => {
      if (!event.ctrlKey && !event.shiftKey) return;
      event.preventDefault();
      const box = plots[0].over.getBoundingClientRect();
      scaleBy(event.deltaY > 0 ? 1.25 : 0.8, plots[0].posToVal(event.clientX - box.left, "x"));
    },
    { passive: false },
  );
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
  document.addEventListener("theme-changed", () => draw());
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => draw());
  new ResizeObserver(() => {
    plots.forEach((plot) => plot.setSize({ width: place.clientWidth, height: plot.height }));
    placeEnds();
  }).observe(place);
}

function draw() {
  const kept = plots[0] ? { min: plots[0].scales.x.min, max: plots[0].scales.x.max } : null;
  plots.splice(0).forEach((plot) => plot.destroy());
  place.replaceChildren();
  about.channels.forEach((/** @type {any} */ channel, /** @type {number} */ i) => {
    const lane = document.createElement("div");
    lane.className = "lane";
    const name = document.createElement("p");
    name.className = "name";
    name.textContent = `${channel.title}${channel.unit ? `, ${channel.unit}` : ""}`;
    name.append(Object.assign(document.createElement("span"), { className: "now" }));
    lane.append(name);
    place.append(lane);
    plots.push(new uPlot(optionsOf(i), [times, values[i]], lane));
  });
  place.append(...ends);
  if (kept) zoom(kept.min, kept.max);
  placeEnds();
}

async function begin() {
  const answer = await fetch(place.dataset.numbers || "");
  if (!answer.ok) throw new Error("the numbers did not come");
  const bytes = await answer.arrayBuffer();
  times = Array.from(new Float64Array(bytes, 0, about.rows));
  values = about.channels.map((/** @type {any} */ _, /** @type {number} */ i) =>
    Float32Array.from(new Float32Array(bytes, 8 * about.rows + 4 * about.rows * i, about.rows)),
  );
  values = values.map((strip) => /** @type {any} */ (Array.from(strip, (value) => (Number.isFinite(value) ? value : null))));
  draw();
  wire();
  const open = about.offered.find((/** @type {any} */ one) => one.state === "open");
  if (field("from_s").value) setStretch(Number(field("from_s").value), Number(field("to_s").value), true);
  else if (open) lookAt(open, "");
}

begin().catch((error) => {
  place.textContent = `The strips could not be drawn (${error.message}); load the page again.`;
});

export {};
