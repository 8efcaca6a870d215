// @ts-check
// Pointing at a run, or reaching it by the keyboard, shows in the margin what the fit leaves of its readings.

/** @param {Element} link */
function show(link) {
  const run = link.getAttribute("data-run") || "";
  const known = document.getElementById(`residuals-${run}`);
  const block = link.closest(".block");
  const margin = block?.querySelector(".note");
  if (!known || !block || !(margin instanceof HTMLElement)) return;
  if (margin.querySelector(".left-over")?.getAttribute("data-of") === run) return;
  away();
  const copy = document.createElement("div");
  copy.className = "left-over";
  copy.dataset.of = run;
  for (const part of known.children) copy.append(part.cloneNode(true));
  margin.append(copy);
  // At the height of the row that was pointed at, where the margin is free there.
  const wanted = link.getBoundingClientRect().top - margin.getBoundingClientRect().top;
  const free = copy.offsetTop;
  const room = block.getBoundingClientRect().height - copy.offsetHeight;
  if (!link.closest(".note")) copy.style.marginTop = `${Math.max(Math.min(wanted, room) - free, 0)}px`;
}

function away() {
  for (const shown of document.querySelectorAll(".left-over")) shown.remove();
}

for (const kind of ["mouseover", "focusin"]) {
  document.addEventListener(kind, (event) => {
    const link = event.target instanceof Element ? event.target.closest("[data-run]") : null;
    if (link) show(link);
  });
}
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") away();
});

export {};
