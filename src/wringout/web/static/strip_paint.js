// @ts-check
// What is painted over the lines of a strip: runs and suggestions behind them, marks, and the fit before and after.

import { colour } from "./theme.js";

/** The ink of a quantity: one colour per thing. @param {string} quantity */
export function inkOf(quantity) {
  if (quantity === "gear") return colour("--gear");
  if (quantity === "flap") return colour("--flaps");
  if (["power", "manifold_pressure", "rpm"].includes(quantity)) return colour("--power");
  return colour("--ink");
}

/** Paint runs, suggestions and the stretch behind the lines. @param {any} u @param {any} about @param {{from: number, to: number} | null} stretch @param {boolean} first */
export function paintBands(u, about, stretch, first) {
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
      ctx.save();
      ctx.globalAlpha = 1;
      ctx.fillStyle = colour("--ink");
      ctx.font = `600 ${11 * ratio}px sans-serif`;
      ctx.beginPath();
      ctx.rect(x0, bbox.top, x1 - x0, bbox.height);
      ctx.clip();
      ctx.fillText(words, x0 + 3 * ratio, bbox.top + bbox.height - (4 + 13 * row) * ratio);
      ctx.restore();
    }
  };
  ctx.save();
  for (const one of about.offered) if (one.state === "open") band(one.from, one.to, colour("--wash"), one.kind, 1);
  ctx.globalAlpha = 0.55;
  for (const run of about.runs) if (run.from !== null && run.state === "in use") band(run.from, run.to, colour("--hair"), run.key, 0);
  ctx.globalAlpha = 0.07;
  if (stretch) band(stretch.from, stretch.to, colour("--ink"), "", 0);
  ctx.restore();
}

/** Paint marks as thin lines, with their words where there is room. @param {any} u @param {any} about @param {boolean} first */
export function paintMarks(u, about, first) {
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
      ctx.fillText(mark.label, x + 3 * ratio, bbox.top + 12 * ratio);
      free = x + wide + 10 * ratio;
    }
  }
  ctx.restore();
}

/** Paint the fit of the stretch: before the ends were moved as a thin line, after as a heavy one. @param {any} u @param {any} before @param {any} after */
export function paintFits(u, before, after) {
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
  if (before !== after) line(before, 1.2, [4, 3]);
  line(after, 2.5, []);
}
