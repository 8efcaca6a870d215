// @ts-check
// The theme's colours for what is painted on a canvas, and small pieces of page that several scripts make.

/** @param {string} name such as "--ink" */
export const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#444";

/** Call when the theme changes, by choice or by the system. @param {() => void} changed */
export function onTheme(changed) {
  document.addEventListener("theme-changed", changed);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", changed);
}

/** @param {string} words @param {string} [kind] */
export function paragraph(words, kind = "") {
  return Object.assign(document.createElement("p"), { textContent: words, className: kind });
}

/** @param {"td" | "th"} kind @param {string} words @param {string} [name] */
export function cell(kind, words, name = "") {
  return Object.assign(document.createElement(kind), { textContent: words, className: name });
}
