// @ts-check
// The points of a strip that are worth drawing: of a hundred thousand, the lowest and the highest of each column of the screen.

const BLOCK = 32;

/** The first place in a rising list that is not below a value. @param {ArrayLike<number>} rising @param {number} value */
export function placeOf(rising, value) {
  let low = 0;
  let high = rising.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rising[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** The place in a rising list that is nearest to a value. @param {ArrayLike<number>} rising @param {number} value */
export function nearestTo(rising, value) {
  const after = Math.min(placeOf(rising, value), rising.length - 1);
  const before = Math.max(after - 1, 0);
  return value - rising[before] < rising[after] - value ? before : after;
}

/** Lowest and highest of each block of values; NaN where a block has none. @param {Float32Array} values */
function extremes(values) {
  const count = Math.ceil(values.length / BLOCK);
  const low = new Float32Array(count).fill(NaN);
  const high = new Float32Array(count).fill(NaN);
  for (let i = 0; i < values.length; i += 1) {
    const value = values[i];
    const block = (i / BLOCK) | 0;
    if (!(low[block] <= value)) low[block] = Number.isNaN(value) ? low[block] : value;
    if (!(high[block] >= value)) high[block] = Number.isNaN(value) ? high[block] : value;
  }
  return { low, high };
}

/** One strip's numbers, ready to be asked for any stretch. */
export class StripPoints {
  /** @param {Float64Array} times rising @param {Float32Array} values NaN where there is none */
  constructor(times, values) {
    this.times = times;
    this.values = values;
    this.blocks = extremes(values);
  }

  /** What to draw from one time to another: every point where there is room, else two a column. @param {number} from @param {number} to @param {number} columns */
  between(from, to, columns) {
    const first = Math.max(placeOf(this.times, from) - 1, 0);
    const last = Math.min(placeOf(this.times, to) + 1, this.times.length);
    if (last - first <= 4 * columns) return this.every(first, last);
    return this.columns(first, last, columns);
  }

  /** @param {number} first @param {number} last */
  every(first, last) {
    const x = Array.from(this.times.subarray(first, last));
    const y = Array.from(this.values.subarray(first, last), (value) => (Number.isNaN(value) ? null : value));
    return [x, y];
  }

  /** @param {number} first @param {number} last @param {number} columns */
  columns(first, last, columns) {
    const x = [];
    const y = [];
    // Columns begin at multiples of their own width, so that a stretch that is moved keeps its points.
    const wide = 2 ** Math.ceil(Math.log2((last - first) / columns));
    for (let start = first - (first % wide); start < last; start += wide) {
      const end = Math.min(start + wide, this.times.length);
      const [low, high] = this.extremesOf(start, end);
      if (Number.isNaN(low)) {
        x.push(this.times[start]);
        y.push(null);
        continue;
      }
      const middle = this.times[Math.min(start + (wide >> 1), end - 1)];
      x.push(this.times[start], middle);
      y.push(low, high);
    }
    return [x, y];
  }

  /** @param {number} start @param {number} end */
  extremesOf(start, end) {
    const whole = end - start >= BLOCK && start % BLOCK === 0;
    const [lows, highs] = whole ? [this.blocks.low, this.blocks.high] : [this.values, this.values];
    const [from, to] = whole ? [start / BLOCK, Math.ceil(end / BLOCK)] : [start, end];
    let low = NaN;
    let high = NaN;
    for (let i = from; i < to; i += 1) {
      if (!(low <= lows[i]) && !Number.isNaN(lows[i])) low = lows[i];
      if (!(high >= highs[i]) && !Number.isNaN(highs[i])) high = highs[i];
    }
    return [low, high];
  }
}
