// @ts-check
// The scale of speeds sets the entry speed of its point; a hazard that an address names is opened.

document.addEventListener("input", (event) => {
  const slider = event.target;
  if (!(slider instanceof HTMLInputElement) || !slider.dataset.sets) return;
  const field = document.getElementById(slider.dataset.sets);
  if (!(field instanceof HTMLInputElement)) return;
  field.value = `${slider.value} ${slider.dataset.unit}`;
  slider.setAttribute("aria-valuetext", field.value);
});

document.addEventListener("change", (event) => {
  const slider = event.target;
  if (!(slider instanceof HTMLInputElement) || !slider.dataset.sets) return;
  document.getElementById(slider.dataset.sets)?.dispatchEvent(new Event("change", { bubbles: true }));
});

function openNamed() {
  const named = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (named instanceof HTMLDetailsElement) named.open = true;
}
addEventListener("hashchange", openNamed);
openNamed();
