// @ts-check
// Trying techniques: what the hands do on a line of time, the flights that follow, a moment to look at, what if.

import { quantity } from "./numbers.js";
import { onTheme } from "./theme.js";
import { about, arranged, ask, copy, desk, element, keepArranged, knobs, order, waitOf } from "./trial_desk.js";
import { drawLine, onLever, placeMoment } from "./trial_line.js";
import { drawPanels, fitPanels, forgetPanels, markMoment, onMoment } from "./trial_panels.js";
import { showMoment, showMoments, showScores } from "./trial_words.js";

/** @typedef {import("./trial_desk.js").Step} Step */

let busy = false;
let again = false;
/** Fly what is on the desk, one flight at a time; the newest arrangement is never left out. */
async function fly() {
  keepArranged();
  if (busy) {
    again = true;
    return;
  }
  busy = true;
  show(await ask());
  busy = false;
  if (!again) return;
  again = false;
  void fly();
}

/** @param {any} found */
function show(found) {
  element("problem").hidden = !found.problem;
  element("problem").textContent = found.problem;
  if (found.problem) return;
  desk.flown = found;
  const end = found.trials[0].t_s.at(-1);
  element("benefit").textContent = found.benefit;
  element("density").textContent = `Together a density altitude of ${found.density_altitude}.`;
  element("scrub").max = String(end);
  drawPanels();
  drawLine();
  showScores();
  showMoments();
  lookAt(Math.min(desk.moment, end));
}

/** Show one moment: the drawing, the words, and the rule through all panels. @param {number} at */
function lookAt(at) {
  if (!desk.flown) return;
  desk.moment = at;
  showMoment();
  markMoment();
  placeMoment();
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

function showSteps() {
  element("steps").replaceChildren(...desk.steps.map(stepLine));
}

/** @param {Step} step @param {number} i */
function stepLine(step, i) {
  const line = document.createElement("li");
  const targets = step.device === "gear" ? ["up", "down"] : about.flaps;
  const changed = (/** @type {Partial<Step>} */ to) => {
    Object.assign(step, to);
    void fly();
  };
  const seconds = Object.assign(document.createElement("input"), { type: "number", min: "0", max: "60", step: "0.5", value: step.wait_s.toFixed(1) });
  seconds.setAttribute("aria-label", `Wait before step ${i + 1}, seconds`);
  seconds.addEventListener("change", () => edit(() => (step.wait_s = waitOf(Number(seconds.value)))));
  const gates = ["when its turn comes", "once climbing"];
  line.append(
    `${step.device} `,
    choice(targets, step.to, `Step ${i + 1}: where the ${step.device} go`, (to) => changed({ to })),
    ", ",
    seconds,
    i ? " s after the step before, " : " s after full power, ",
    choice(gates, step.gate ? gates[1] : gates[0], `Step ${i + 1}: what is waited for`, (gate) => changed({ gate: gate === gates[1] ? "positive climb" : "" })),
  );
  const swap = () => ([desk.steps[i - 1], desk.steps[i]] = [desk.steps[i], desk.steps[i - 1]]);
  if (i) line.append(button("sooner", () => edit(swap), `Make step ${i + 1} sooner`));
  line.append(button("remove", () => edit(() => desk.steps.splice(i, 1)), `Remove step ${i + 1}`));
  return line;
}

/** @param {() => void} change */
function edit(change) {
  change();
  showSteps();
  void fly();
}

/** @param {HTMLSelectElement} select @param {string} chosen @param {string} [none] */
function fillOrders(select, chosen, none = "") {
  if (none) select.append(new Option(none, ""));
  for (const one of [...about.kept, ...about.known]) select.append(new Option(one.title, one.key, false, one.key === chosen));
}

/** Take an order into the hand. @param {any} one */
function take(one) {
  desk.steps = copy(one.steps);
  element("title").value = one.title;
  const form = element("hand");
  form.elements.key.value = one.revision ? one.key : "";
  form.elements.revision.value = one.revision || "";
  showSteps();
}

function showKnobs() {
  for (const knob of knobs()) {
    const output = /** @type {HTMLOutputElement} */ (knob.parentElement?.querySelector("output"));
    const places = (knob.step.replace(/\.0$/, "").split(".")[1] || "").length;
    output.textContent = quantity(Number(knob.value) * Number(knob.dataset.times), knob.dataset.unit || "", places);
    knob.setAttribute("aria-valuetext", output.textContent);
  }
}

function wireHands() {
  element("begin").addEventListener("change", () => {
    take(order(element("begin").value));
    void fly();
  });
  for (const kept of document.querySelectorAll("[data-kept]")) {
    kept.addEventListener("click", () => {
      take(order(kept.getAttribute("data-kept") || ""));
      void fly();
    });
  }
  element("against").addEventListener("change", () => {
    desk.against = element("against").value;
    void fly();
  });
  ["also-1", "also-2"].forEach((id, i) => {
    element(id).addEventListener("change", () => {
      desk.also[i] = element(id).value;
      void fly();
    });
  });
  element("law").addEventListener("change", () => void fly());
  element("title").addEventListener("change", keepArranged);
  element("add-gear")?.addEventListener("click", () => edit(() => desk.steps.push({ device: "gear", to: "up", wait_s: 0, gate: "" })));
  element("add-flaps").addEventListener("click", () => edit(() => desk.steps.push({ device: "flaps", to: "up", wait_s: 0, gate: "" })));
  element("hand").addEventListener("submit", () => {
    element("hand").elements.steps.value = JSON.stringify(desk.steps);
  });
}

function wire() {
  wireHands();
  onLever(
    () => void fly(),
    () => edit(() => {}),
  );
  onMoment(lookAt);
  element("scrub").addEventListener("input", () => lookAt(Number(element("scrub").value)));
  element("moments").addEventListener("toggle", showMoments);
  const turned = () => {
    showKnobs();
    void fly();
  };
  for (const knob of knobs()) knob.addEventListener("input", turned);
  element("as-usual").addEventListener("click", () => {
    for (const knob of knobs()) knob.value = knob.dataset.usual || "";
    turned();
  });
  onTheme(() => {
    forgetPanels();
    if (desk.flown) show(desk.flown);
  });
  new ResizeObserver(() => {
    fitPanels();
    if (desk.flown) drawLine();
  }).observe(element("panels"));
}

/** What the address asks for, else what was arranged here before, else the first two orders. */
function begin() {
  const asked = new URLSearchParams(location.search);
  const wanted = order(asked.get("kept") || asked.get("order") || "");
  const before = wanted ? null : arranged();
  const law = asked.get("law") || before?.law;
  if (law && [...element("law").options].some((one) => one.value === law)) element("law").value = law;
  const first = about.known[0];
  const other = about.known.find((/** @type {any} */ one) => one.key !== (wanted ?? first).key) || first;
  desk.against = order(before?.against || "")?.key ?? other.key;
  desk.also = ["", ""].map((_, i) => order(before?.also?.[i] || "")?.key ?? "");
  fillOrders(element("begin"), (wanted ?? first).key);
  fillOrders(element("against"), desk.against);
  ["also-1", "also-2"].forEach((id, i) => {
    fillOrders(element(id), desk.also[i], "no other");
  });
  take(wanted ?? first);
  if (!before) return;
  desk.steps = copy(before.steps);
  element("title").value = before.title;
  for (const knob of knobs()) knob.value = String(before.conditions?.[knob.dataset.knob || ""] ?? knob.dataset.usual);
  showSteps();
}

begin();
wire();
showKnobs();
void fly();
