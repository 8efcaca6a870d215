// @ts-check
// Numbers as scripts print them, by the rules of wringout/numerals.py; a test holds them together (exact halves aside).

const MINUS = "\u2212";

/** A number with fixed decimals, thousands apart, with a true minus sign. @param {number | null | undefined} value @param {number} [places] */
export function shown(value, places = 0) {
  if (value === null || value === undefined || Number.isNaN(value)) return "not known";
  if (!Number.isFinite(value)) return "never";
  const [whole, part] = Math.abs(value).toFixed(places).split(".");
  const text = whole.replace(/\B(?=(\d{3})+$)/g, ",") + (part ? `.${part}` : "");
  return value < 0 && /[1-9]/.test(text) ? MINUS + text : text;
}

/** The same with a unit. @param {number | null | undefined} value @param {string} unit @param {number} [places] */
export function quantity(value, unit, places = 0) {
  const text = shown(value, places);
  if (!unit || !/\d/.test(text)) return text;
  return unit === "°" ? text + unit : `${text}\u00a0${unit}`;
}

/** Seconds on a recording's clock as m:ss or h:mm:ss. @param {number} seconds */
export function clock(seconds) {
  const whole = Math.round(Math.abs(seconds));
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  const text = hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
  return seconds < 0 ? MINUS + text : text;
}
