// @ts-check
/** The page of taps: shows one view at a time, writes every tap through before saying so, and can take the last one back. */
import { cardInPage, openCard, padSpeeds } from "./card.js";
import { Delivery, asText, offerFile } from "./handover.js";
import { append, counts, eventsAfter, keepWord, openLog, randomName, standing, word } from "./log.js";

const EPOCH = randomName();
const COLUMNS = 3;
const ROW_PX = 102;
const MOST_ROWS = 6;
const LEAST_ROWS = 3;
const TO_SAY = ["mark", "reading", "timer", "note", "point"];

/** @template {HTMLElement} T @param {string} id @returns {T} */
function element(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`there is no ${id}`);
  return /** @type {T} */ (found);
}

/** @param {string} words @param {() => void} press @param {string} [kind] */
function key(words, press, kind = "") {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = words;
  button.className = kind;
  onTap(button, press);
  return button;
}

/**
 * A tap counts when the finger comes down, since that is when it was meant; a key of the keyboard when it clicks.
 * @param {HTMLElement} button @param {() => void} press
 */
function onTap(button, press) {
  let down = -Infinity;
  button.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    down = performance.now();
    press();
  });
  button.addEventListener("click", () => {
    if (performance.now() - down > 1500) press();
    down = -Infinity;
  });
}

/** @param {import("./log.js").Tap} tap @param {string} unit */
function said(tap, unit) {
  const at = new Date(tap.wall_ms).toTimeString().slice(0, 8);
  const words = {
    reading: `${tap.value} ${tap.unit || unit}`,
    timer: `${tap.label} ${tap.phase === "start" ? "running" : "stopped"}`,
    note: `note: ${(tap.text || "").slice(0, 40)}`,
    point: `point: ${tap.label}`,
  }[tap.kind];
  return `${at}  ${words || tap.label}`;
}

class Page {
  /** @param {IDBDatabase} log @param {import("./card.js").Card} card @param {string} device */
  constructor(log, card, device) {
    this.log = log;
    this.card = card;
    this.device = device;
    this.point = 0;
    this.view = "marks";
    /** @type {import("./log.js").Tap[]} */
    this.events = [];
    /** @type {Promise<unknown>} */
    this.queue = Promise.resolve();
    this.waiting = 0;
    this.shift = 0;
    this.others = new BroadcastChannel("wringout-capture");
    /** @type {Delivery | null} */
    this.delivery = null;
    if (card.deliver) {
      const where = { flight: card.flight, device, address: card.deliver, key: card.key, epoch: EPOCH };
      this.delivery = new Delivery(log, where, () => void this.sayKept());
    }
  }

  get now() {
    return { flight: this.card.flight, wall_ms: Date.now(), mono_ms: performance.now(), epoch: EPOCH };
  }

  /**
   * Write an event through. The clocks are read now; the screen speaks of it when it is on the disk.
   * @param {Partial<import("./log.js").Tap> & {kind: string}} what
   */
  keep(what) {
    const event = { ...this.now, ...what };
    this.waiting += 1;
    const written = this.queue.then(() => append(this.log, event));
    this.queue = written.then(
      (tap) => this.wasKept(tap),
      (error) => this.wasNotKept(event, error),
    );
    return written;
  }

  /** @param {import("./log.js").Tap} tap */
  wasKept(tap) {
    this.waiting -= 1;
    this.events.push(tap);
    this.others.postMessage(tap.sequence);
    document.body.classList.remove("failing");
    this.show();
    this.delivery?.soon();
  }

  /** @param {{kind: string, label?: string, value?: number}} event @param {unknown} error */
  wasNotKept(event, error) {
    this.waiting -= 1;
    document.body.classList.add("failing");
    const what = event.label || event.value || event.kind;
    element("last").textContent = `NOT KEPT: ${what}. Write it on paper (${error instanceof Error ? error.name : error})`;
  }

  /** Another window on this device wrote something: take it in. */
  async readAgain() {
    this.events = await eventsAfter(this.log, this.card.flight);
    this.show();
  }

  get current() {
    return this.card.points[this.point];
  }

  get standing() {
    return standing(this.events);
  }

  undo() {
    const last = this.standing.filter((tap) => TO_SAY.includes(tap.kind)).at(-1);
    if (last) void this.keep({ kind: "undo", of: last.sequence });
  }

  /** @param {number} by */
  move(by) {
    const to = Math.min(Math.max(this.point + by, 0), this.card.points.length - 1);
    const point = this.card.points[to];
    void this.keep({ kind: "point", label: point.key });
  }

  /** @param {string} label */
  time(label) {
    void this.keep({ kind: "timer", label, phase: this.runningSince(label) ? "stop" : "start" });
  }

  /** @param {string} label */
  runningSince(label) {
    const last = this.standing.filter((tap) => tap.kind === "timer" && tap.label === label).at(-1);
    return last && last.phase === "start" ? last : null;
  }

  lastSpeed() {
    const here = this.standing;
    const from = here.findLastIndex((tap) => tap.kind === "point");
    const calls = here.slice(from + 1).filter((tap) => tap.kind === "reading");
    return calls.at(-1);
  }

  /** Find the point that was last begun. */
  findPoint() {
    const begun = this.standing.filter((tap) => tap.kind === "point").at(-1);
    const at = this.card.points.findIndex((point) => point.key === begun?.label);
    this.point = Math.max(at, 0);
  }

  show() {
    const before = this.point;
    this.findPoint();
    if (before !== this.point) this.shift = 0;
    const many = this.card.points.length;
    element("point-title").textContent = this.current.title;
    element("point-count").textContent = many > 1 ? `${this.point + 1} of ${many}` : "";
    element("stop").textContent = this.current.stop.length ? `Stop: ${this.current.stop.join("; ")}.` : "";
    this.showMarks();
    this.showSpeeds();
    this.showTimers();
    const last = this.standing.filter((tap) => TO_SAY.includes(tap.kind)).at(-1);
    element("last").textContent = last ? said(last, this.card.unit) : "Nothing tapped yet";
    /** @type {HTMLButtonElement} */ (element("undo")).disabled = !last;
    void this.sayKept();
  }

  async sayKept() {
    const { last, delivered } = await counts(this.log, this.card.flight);
    const away = this.delivery ? `, ${delivered} with the laptop` : "";
    element("kept").textContent = `${last} kept on this device${away}`;
    element("kept").dataset.kept = String(last);
    element("kept").dataset.delivered = String(delivered);
  }

  showMarks() {
    const label = (/** @type {string} */ mark) => key(mark, () => void this.keep({ kind: "mark", label: mark }));
    const more = this.card.points[this.point + 1];
    fill("view-marks", `${this.current.marks.join("|")}:${more?.key}`, () => {
      const marks = this.current.marks.map(label);
      return more ? [...marks, key(`Next point: ${more.title}`, () => this.move(1), "wide")] : marks;
    });
  }

  /** How many speeds fit on the pad above the row that shifts it. */
  get padKeys() {
    const rows = Math.floor(element("pads").clientHeight / ROW_PX);
    return COLUMNS * (Math.min(Math.max(rows, LEAST_ROWS), MOST_ROWS) - 1);
  }

  showSpeeds() {
    const last = this.lastSpeed();
    const { first_kt, step_kt } = this.current;
    const middle = (last?.value ?? first_kt) + this.shift * step_kt;
    const speeds = padSpeeds(middle, step_kt, this.padKeys);
    fill("view-speeds", `${speeds.join("|")}:${last?.value}:${this.shift}`, () => {
      const keys = speeds.map((speed) => key(String(speed), () => this.call(speed), speed === last?.value ? "last" : ""));
      const higher = key("Higher", () => this.shiftBy(this.padKeys / 2), "shift");
      const lower = key("Lower", () => this.shiftBy(-this.padKeys / 2), "shift");
      const due = Object.assign(document.createElement("p"), { id: "due" });
      return [...keys, higher, due, lower];
    });
    this.showDue();
  }

  showDue() {
    const due = document.getElementById("due");
    if (!due) return;
    const last = this.lastSpeed();
    const every = this.current.every_s;
    const here = last && last.epoch === EPOCH;
    const gone = here ? Math.floor((performance.now() - last.mono_ms) / 1000) : NaN;
    due.textContent = Number.isFinite(gone) && gone < 600 ? `${gone} s since the last` : "first call";
    due.classList.toggle("due", every > 0 && gone >= every);
  }

  /** @param {number} steps */
  shiftBy(steps) {
    this.shift += steps;
    this.showSpeeds();
  }

  /** @param {number} value */
  call(value) {
    this.shift = 0;
    void this.keep({ kind: "reading", value, unit: this.card.unit });
  }

  showTimers() {
    const state = this.current.timers.map((label) => `${label}:${this.runningSince(label)?.sequence ?? ""}`).join("|");
    fill("view-timer", state, () =>
      this.current.timers.map((label) => {
        const button = key(label, () => this.time(label));
        button.append(Object.assign(document.createElement("span"), { className: "watch" }));
        button.dataset.timer = label;
        return button;
      }),
    );
    this.showRunning();
  }

  showRunning() {
    for (const button of document.querySelectorAll("#view-timer button")) {
      const label = /** @type {HTMLElement} */ (button).dataset.timer || "";
      const running = this.runningSince(label);
      const ended = this.standing.filter((tap) => tap.kind === "timer" && tap.label === label && tap.phase === "stop").at(-1);
      const watch = /** @type {HTMLElement} */ (button.querySelector(".watch"));
      watch.textContent = running ? `${elapsed(running, this.now)} s` : ended ? this.lastTime(label, ended) : "start";
      button.setAttribute("aria-pressed", String(Boolean(running)));
    }
  }

  /** @param {string} label @param {import("./log.js").Tap} ended */
  lastTime(label, ended) {
    const starts = this.standing.filter((tap) => tap.kind === "timer" && tap.label === label && tap.phase === "start");
    const began = starts.filter((tap) => tap.sequence < ended.sequence).at(-1);
    return began ? `${elapsed(began, ended)} s` : "start";
  }

  /** @param {string} view */
  choose(view) {
    this.view = view;
    for (const section of document.querySelectorAll("main > section")) {
      /** @type {HTMLElement} */ (section).hidden = section.id !== `view-${view}`;
    }
    for (const button of document.querySelectorAll("nav button")) {
      button.setAttribute("aria-pressed", String(/** @type {HTMLElement} */ (button).dataset.view === view));
    }
  }
}

/**
 * Fill a view with keys, only when they differ: a key that is being pressed must not be replaced under the finger.
 * @param {string} id @param {string} state @param {() => HTMLElement[]} make
 */
function fill(id, state, make) {
  const view = element(id);
  if (view.dataset.state === state) return;
  view.dataset.state = state;
  view.replaceChildren(...make());
}

/** @param {{mono_ms: number, wall_ms: number, epoch: string}} from @param {{mono_ms: number, wall_ms: number, epoch: string}} to */
function elapsed(from, to) {
  const ms = from.epoch === to.epoch ? to.mono_ms - from.mono_ms : to.wall_ms - from.wall_ms;
  return (ms / 1000).toFixed(1);
}

/** @param {Page} page */
function wireNote(page) {
  const note = /** @type {HTMLTextAreaElement} */ (element("note"));
  let began = page.now;
  let empty = true;
  note.value = localStorage.getItem("wringout-note") || "";
  note.addEventListener("input", () => {
    if (empty) began = page.now;
    empty = note.value === "";
    localStorage.setItem("wringout-note", note.value);
  });
  onTap(element("keep-note"), () => {
    const text = note.value.trim();
    if (!text) return;
    const kept = page.keep({ kind: "note", text, ...began });
    void kept.then(() => {
      if (note.value.trim() === text) note.value = "";
      localStorage.setItem("wringout-note", note.value);
      empty = true;
    });
  });
}

/** @param {Page} page */
function wireGround(page) {
  const show = () => {
    const black = document.documentElement.dataset.ground === "black";
    element("ground").textContent = black ? "White ground" : "Black ground";
  };
  onTap(element("ground"), () => {
    const black = document.documentElement.dataset.ground === "black";
    document.documentElement.dataset.ground = black ? "white" : "black";
    void keepWord(page.log, "ground", document.documentElement.dataset.ground);
    show();
  });
  void word(page.log, "ground").then((ground) => {
    if (ground) document.documentElement.dataset.ground = ground;
    show();
  });
}

/** @param {Page} page */
function wire(page) {
  for (const button of document.querySelectorAll("nav button")) {
    const { view } = /** @type {HTMLElement} */ (button).dataset;
    onTap(/** @type {HTMLElement} */ (button), () => page.choose(view || "marks"));
  }
  onTap(element("undo"), () => page.undo());
  onTap(element("point-before"), () => page.move(-1));
  element("hand-over").addEventListener("click", async () => {
    const events = await eventsAfter(page.log, page.card.flight);
    const name = `${page.card.flight}-${page.device}.taps`;
    offerFile(name, asText(page.card.flight, page.device, events));
  });
  element("device").textContent = `This device is ${page.device}.`;
  wireNote(page);
  wireGround(page);
  addEventListener("resize", () => page.showSpeeds());
  page.others.addEventListener("message", () => void page.readAgain());
  addEventListener("contextmenu", (event) => event.preventDefault());
  document.addEventListener("visibilitychange", () => {
    const visible = document.visibilityState === "visible";
    void page.keep({ kind: "sight", visible });
    if (visible) void stayAwake();
  });
  setInterval(() => {
    if (page.view === "speeds") page.showDue();
    if (page.view === "timer") page.showRunning();
  }, 100);
}

/** Ask the screen to stay on, where the browser lets a page ask. */
async function stayAwake() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // A refusal (battery saver, no right to ask) leaves the screen to the device's own setting.
  }
}

/** Let the page be opened without the network, where the browser allows it. */
function installable() {
  if (document.querySelector('link[rel="manifest"]') && "serviceWorker" in navigator && isSecureContext) {
    void navigator.serviceWorker.register("sw.js").catch(() => undefined);
  }
}

/** @param {IDBDatabase} log @returns {Promise<import("./card.js").Card>} */
async function findCard(log) {
  const card = cardInPage();
  if (card) {
    await keepWord(log, "card", card);
    return card;
  }
  return (await word(log, "card")) || openCard();
}

/** @param {IDBDatabase} log @returns {Promise<string>} */
async function nameOfDevice(log) {
  const known = await word(log, "device");
  if (known) return known;
  const name = randomName();
  await keepWord(log, "device", name);
  return name;
}

async function begin() {
  const log = await openLog();
  log.onversionchange = () => log.close();
  const [card, device] = [await findCard(log), await nameOfDevice(log)];
  const page = new Page(log, card, device);
  page.events = await eventsAfter(log, card.flight);
  await page.keep({ kind: "open", zone_min: -new Date().getTimezoneOffset() });
  wire(page);
  page.choose("marks");
  page.show();
  void navigator.storage?.persist?.();
  void stayAwake();
  installable();
}

begin().catch((error) => {
  document.body.classList.add("failing");
  element("last").textContent = `This browser keeps nothing (${error?.name || error}). Use paper, or another browser.`;
});
