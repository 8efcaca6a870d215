// @ts-check
// Marking an instrument on a picture: a press fills the pair of fields one is at, arrow keys move a number, the marks
// follow, and what was marked is kept in this browser until the workbench has it. The form works without this script.

const form = /** @type {HTMLFormElement | null} */ (document.querySelector("form[data-marks]"));
const place = /** @type {HTMLElement | null} */ (document.querySelector(".picture"));
const image = place?.querySelector("img") ?? null;
const drawing = /** @type {SVGSVGElement | null} */ (document.querySelector("#marks"));
const SVG = "http://www.w3.org/2000/svg";
const DRAFT = `wringout-draft:${location.pathname}#marks`;

/** @param {string} text */
function say(text) {
  const told = document.getElementById("said");
  if (told) told.textContent = text;
}

/** @param {HTMLInputElement} field @returns {number | null} */
function numberIn(field) {
  const text = field.value.trim().replace(",", ".").replace("\u2212", "-");
  const found = Number(text);
  return text !== "" && Number.isFinite(found) ? found : null;
}

/** @param {Element} pair @returns {[HTMLInputElement, HTMLInputElement]} */
function fieldsOf(pair) {
  const [x, y] = pair.querySelectorAll("input");
  return [/** @type {HTMLInputElement} */ (x), /** @type {HTMLInputElement} */ (y)];
}

/** @param {Element} pair @returns {[number, number] | null} */
function pointOf(pair) {
  const [x, y] = fieldsOf(pair).map(numberIn);
  return x === null || x === undefined || y === null || y === undefined ? null : [x, y];
}

/** The pairs of fields that are shown now. @param {HTMLFormElement} of @returns {Element[]} */
function shownPairs(of) {
  return [...of.querySelectorAll(".place")].filter((pair) => /** @type {HTMLElement} */ (pair).offsetParent !== null);
}

/** @param {string} name @param {Record<string, string | number>} values @returns {SVGElement[]} */
function twice(name, values) {
  return ["under", "above"].map((kind) => {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries({ ...values, class: kind })) made.setAttribute(key, String(value));
    return made;
  });
}

/** @param {HTMLFormElement} of @param {SVGSVGElement} on @param {HTMLImageElement} picture */
function draw(of, on, picture) {
  const arm = 0.012 * Number(picture.getAttribute("width"));
  /** @type {SVGElement[]} */
  const made = [];
  for (const pair of shownPairs(of)) {
    const point = pointOf(pair);
    const name = fieldsOf(pair)[0].name;
    if (!point || name === "width") continue;
    const [x, y] = point;
    if (name === "left") {
      const size = [.../** @type {NodeListOf<HTMLInputElement>} */ (of.querySelectorAll("[name=width], [name=height]"))].map(numberIn);
      const [width, height] = [size[0] ?? 0, size[1] ?? 0];
      if (width > 0 && height > 0) made.push(...twice("rect", { x, y, width, height }));
      else made.push(...twice("path", { d: `M${x - arm},${y} h${2 * arm} M${x},${y - arm} v${2 * arm}` }));
      continue;
    }
    const half = name === "centre_x" ? 2 * arm : arm;
    made.push(...twice("path", { d: `M${x - half},${y} h${2 * half} M${x},${y - half} v${2 * half}` }));
    const value = pair.closest("li")?.querySelector("input")?.value;
    if (!value) continue;
    const words = document.createElementNS(SVG, "text");
    words.setAttribute("x", String(x + 1.2 * arm));
    words.setAttribute("y", String(y - 0.6 * arm));
    words.setAttribute("font-size", String(3 * arm));
    words.textContent = value;
    made.push(words);
  }
  on.replaceChildren(...made);
}

/** @param {HTMLFormElement} of @returns {string} */
function written(of) {
  const kept = [...new FormData(of)].filter(([name]) => name !== "form-token" && name !== "revision");
  return JSON.stringify(kept.map(([name, value]) => [name, String(value)]));
}

/** Put what was kept back, field by field in their order. @param {HTMLFormElement} of @param {string} text */
function putBack(of, text) {
  /** @type {Map<string, string[]>} */
  const values = new Map();
  for (const [name, value] of JSON.parse(text)) values.set(name, [...(values.get(name) ?? []), value]);
  for (const field of of.querySelectorAll("input, select")) {
    if (!(field instanceof HTMLInputElement || field instanceof HTMLSelectElement)) continue;
    const rest = values.get(field.name);
    if (!rest) continue;
    if (field instanceof HTMLInputElement && field.type === "radio") field.checked = field.value === rest[0];
    else if (rest.length) field.value = rest.shift() ?? "";
  }
}

/** @param {HTMLFormElement} of @param {() => void} changed */
function offerDraft(of, changed) {
  const kept = localStorage.getItem(DRAFT);
  if (kept === null || kept === written(of)) {
    localStorage.removeItem(DRAFT);
    return;
  }
  const note = document.createElement("p");
  note.className = "refusal";
  note.textContent = "You marked something here that was not read yet. ";
  for (const [words, back] of /** @type {[string, boolean][]} */ ([["Put it back", true], ["Forget it", false]])) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet";
    button.textContent = words;
    button.addEventListener("click", () => {
      if (back) putBack(of, kept);
      else localStorage.removeItem(DRAFT);
      note.remove();
      changed();
    });
    note.append(button);
  }
  of.before(note);
}

/** @param {HTMLFormElement} of @param {HTMLElement} on @param {HTMLImageElement} picture @param {SVGSVGElement} marks */
function begin(of, on, picture, marks) {
  /** @type {Element | null} */
  let held = null;
  const changed = () => draw(of, marks, picture);
  /** @param {Element | null} pair */
  const hold = (pair) => {
    held?.classList.remove("held");
    held = pair;
    held?.classList.add("held");
    on.classList.toggle("aimed", held !== null);
  };
  const next = () => hold(shownPairs(of).find((pair) => fieldsOf(pair)[0].name !== "width" && pointOf(pair) === null) ?? null);
  of.addEventListener("focusin", (event) => {
    const pair = event.target instanceof Element ? event.target.closest(".place") : null;
    if (pair) hold(pair);
  });
  of.addEventListener("input", () => {
    changed();
    try {
      localStorage.setItem(DRAFT, written(of));
    } catch {
      say("This browser keeps no drafts; read the clip before closing the window.");
    }
  });
  of.addEventListener("change", (event) => {
    if (event.target instanceof HTMLInputElement && event.target.name === "kind") next();
  });
  of.addEventListener("keydown", (event) => {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || !field.closest(".place")) return;
    const by = event.key === "ArrowUp" ? 1 : event.key === "ArrowDown" ? -1 : 0;
    const now = numberIn(field);
    if (!by || now === null) return;
    event.preventDefault();
    field.value = String(Math.round(2 * (now + by * (event.shiftKey ? 10 : 1))) / 2);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
  on.addEventListener("click", (event) => {
    const pair = held;
    if (!pair) return;
    const box = picture.getBoundingClientRect();
    const scale = Number(picture.getAttribute("width")) / box.width;
    let [x, y] = [event.clientX - box.left, event.clientY - box.top].map((at) => Math.round(2 * at * scale) / 2);
    const fields = fieldsOf(pair);
    if (fields[0].name === "width") {
      const [left, top] = [...of.querySelectorAll("[name=left], [name=top]")].map((one) => numberIn(/** @type {HTMLInputElement} */ (one)) ?? 0);
      [x, y] = [x - left, y - top];
    }
    [fields[0].value, fields[1].value] = [String(x), String(y)];
    const at = of.querySelector("[name=at]");
    if (at instanceof HTMLInputElement) at.value = on.dataset.at ?? at.value; // what is marked is the picture that is shown
    fields[1].dispatchEvent(new Event("input", { bubbles: true }));
    say(`${x} from the left, ${y} from the top.`);
    if (fields[0].name === "left") hold(shownPairs(of).find((one) => fieldsOf(one)[0].name === "width") ?? null);
    else next();
  });
  if (document.querySelector("[data-saved=marks]")) localStorage.removeItem(DRAFT);
  if (!of.querySelector("[name=centre_x][value]:not([value=''])")) next();
  offerDraft(of, changed);
}

if (form && place && image instanceof HTMLImageElement && drawing) begin(form, place, image, drawing);
