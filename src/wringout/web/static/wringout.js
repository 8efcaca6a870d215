// @ts-check
// What every page shares: the theme, text that is kept while it is typed, files that are dropped, work that ends.

const DRAFT = "wringout-draft:";

/** @param {string} text */
export function say(text) {
  const place = document.getElementById("said");
  if (place) place.textContent = text;
}

/** @param {Element} field */
function draftKey(field) {
  const name = field.getAttribute("data-draft");
  return name ? DRAFT + location.pathname + "#" + name : "";
}

// Text that is typed is kept in this browser until the server has it; a closed or crashed window gives it back.
document.addEventListener("input", (event) => {
  const field = event.target;
  if (!(field instanceof HTMLTextAreaElement || field instanceof HTMLInputElement)) return;
  const key = draftKey(field);
  if (!key) return;
  field.dataset.dirty = "yes";
  try {
    localStorage.setItem(key, field.value);
  } catch {
    say("This browser keeps no drafts; save before closing the window.");
  }
});

/** @param {ParentNode} root */
function giveBackDrafts(root) {
  for (const field of root.querySelectorAll("[data-draft]")) {
    if (!(field instanceof HTMLTextAreaElement || field instanceof HTMLInputElement)) continue;
    const kept = localStorage.getItem(draftKey(field));
    if (kept === null || kept === field.value) {
      localStorage.removeItem(draftKey(field));
      continue;
    }
    const note = document.createElement("p");
    note.className = "refusal";
    note.textContent = "You typed something here that was not saved. ";
    const take = document.createElement("button");
    take.type = "button";
    take.className = "quiet";
    take.textContent = "Put it back";
    take.addEventListener("click", () => {
      field.value = kept;
      field.dataset.dirty = "yes";
      note.remove();
      field.focus();
    });
    const drop = document.createElement("button");
    drop.type = "button";
    drop.className = "quiet";
    drop.textContent = "Forget it";
    drop.addEventListener("click", () => {
      localStorage.removeItem(draftKey(field));
      note.remove();
    });
    note.append(take, drop);
    field.closest(".field, p, form")?.before(note);
    field.closest("details")?.setAttribute("open", ""); // else the note would lie folded away, unseen
  }
}

/** @param {ParentNode} root */
function forgetSaved(root) {
  for (const mark of root.querySelectorAll("[data-saved]")) {
    const name = mark.getAttribute("data-saved") ?? "";
    localStorage.removeItem(DRAFT + location.pathname + "#" + name);
    for (const field of document.querySelectorAll(`[data-draft="${CSS.escape(name)}"]`)) {
      if (field instanceof HTMLElement) delete field.dataset.dirty;
    }
    if (mark.textContent) say(mark.textContent);
  }
}

function isDirty() {
  return document.querySelector("[data-dirty=yes]") !== null;
}

// The theme changes at once; the form works without this script too.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) return;
  for (const field of form.querySelectorAll("[data-draft]")) {
    if (field instanceof HTMLElement) delete field.dataset.dirty;
  }
  if (!form.hasAttribute("data-theme-form")) return;
  const button = event instanceof SubmitEvent ? event.submitter : null;
  if (!(button instanceof HTMLButtonElement)) return;
  event.preventDefault();
  document.documentElement.dataset.theme = button.value;
  document.cookie = `wringout-theme=${button.value}; path=/; max-age=31536000; samesite=strict`;
  for (const other of form.querySelectorAll("button")) {
    other.setAttribute("aria-pressed", String(other === button));
  }
  document.dispatchEvent(new CustomEvent("theme-changed"));
});

// Files dropped on a place go into its own file field, which is the way without a mouse.
for (const kind of ["dragover", "dragleave", "drop"]) {
  document.addEventListener(kind, (event) => {
    if (!(event instanceof DragEvent) || !(event.target instanceof Element)) return;
    const place = event.target.closest(".drop");
    if (!place) return;
    event.preventDefault();
    place.classList.toggle("over", kind === "dragover");
    const field = place.querySelector("input[type=file]");
    if (kind !== "drop" || !(field instanceof HTMLInputElement) || !event.dataTransfer) return;
    field.files = event.dataTransfer.files;
    field.dispatchEvent(new Event("change", { bubbles: true }));
    if (field.form && field.files.length) field.form.requestSubmit();
  });
}

// A page that waits for work shows its result when the work is done, unless something is being typed.
let waiting = new Set();
document.addEventListener("htmx:afterSettle", (event) => {
  const target = event.target;
  if (!(target instanceof Element)) return;
  forgetSaved(target);
  watchTables(target);
  if (target.id !== "jobs") return;
  const open = new Set();
  for (const job of target.querySelectorAll("[data-job]")) {
    const kind = job.getAttribute("data-job") ?? "";
    const state = job.getAttribute("data-state") ?? "";
    if (state === "waiting" || state === "running") open.add(kind);
    else if (waiting.has(kind) && state === "done") finished(kind);
  }
  waiting = open;
});

// A look at the work that fails leaves what is shown, and with it the next look; without it nobody would ask again.
document.addEventListener("htmx:beforeSwap", (event) => {
  const { target, xhr } = /** @type {CustomEvent} */ (event).detail;
  if (target.id === "jobs" && xhr.status !== 200) /** @type {CustomEvent} */ (event).detail.shouldSwap = false;
});

/** @param {string} kind */
function finished(kind) {
  say("The work is done.");
  const wanted = document.querySelector("main")?.getAttribute("data-awaits") ?? "";
  if (wanted.split(" ").includes(kind) && !isDirty()) location.reload();
}

// A table that does not fit is rolled from the keyboard too: it can be gone to as long as it does not fit.
const fitting = new ResizeObserver((seen) => {
  for (const { target } of seen) {
    if (!(target instanceof HTMLElement) || target.dataset.rolls === "always") continue;
    const rolls = target.scrollWidth > target.clientWidth;
    if (rolls === target.hasAttribute("tabindex")) continue;
    if (!rolls) {
      for (const name of ["tabindex", "role", "aria-label"]) target.removeAttribute(name);
      continue;
    }
    const named = target.querySelector("caption") ?? target.closest("section, details, .col")?.querySelector("h2, h3, summary");
    target.tabIndex = 0;
    target.setAttribute("role", "group");
    target.setAttribute("aria-label", named?.textContent?.trim() || "Table");
  }
});

/** @param {ParentNode} root */
function watchTables(root) {
  for (const place of root.querySelectorAll(".table")) {
    if (!(place instanceof HTMLElement)) continue;
    if (place.hasAttribute("tabindex")) place.dataset.rolls = "always";
    fitting.observe(place);
  }
}

addEventListener("beforeunload", (event) => {
  if (isDirty()) event.preventDefault();
});

giveBackDrafts(document);
watchTables(document);
forgetSaved(document);
for (const job of document.querySelectorAll("#jobs [data-job]")) {
  const state = job.getAttribute("data-state");
  if (state === "waiting" || state === "running") waiting.add(job.getAttribute("data-job") ?? "");
}
