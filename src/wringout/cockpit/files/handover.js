// @ts-check
/**
 * Handing the log over: to the workbench that served the page, as often as it takes, and as a file at any time.
 *
 * Both say the same thing and both may be repeated: whoever receives knows an event by flight, device and place.
 */
import { append, counts, eventsAfter, noteDelivered } from "./log.js";

const AT_ONCE = 200;
const SOONEST_MS = 2000;
const LATEST_MS = 60000;
const COMPARE_EVERY_MS = 30000;
const PATIENCE_MS = 10000;

/**
 * Return the log of a flight as text: a line of JSON that says what it is, then a line for each event.
 * @param {string} flight @param {string} device @param {import("./log.js").Tap[]} events @returns {string}
 */
export function asText(flight, device, events) {
  const first = { format: "wringout taps, version 1", flight, device, events: events.length };
  const lines = events.map((event) => {
    const { flight: _, ...rest } = event;
    return JSON.stringify({ device, ...rest });
  });
  return [JSON.stringify(first), ...lines].join("\n") + "\n";
}

/**
 * Offer the log as a file to keep or send.
 * @param {string} name @param {string} text
 */
export function offerFile(name, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/x-ndjson" }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

/** @param {string} address @param {unknown} body @param {string} key @returns {Promise<any>} */
async function post(address, body, key) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
  try {
    const response = await fetch(address, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Capture-Key": key },
      body: JSON.stringify(body),
      signal: stop.signal,
      cache: "no-store",
      credentials: "same-origin",
    });
    if (!response.ok) throw new Error(`${response.status}`);
    return await response.json();
  } finally {
    clearTimeout(timer);
  }
}

/**
 * Keep delivering in the background. The clock of the receiver is compared now and then: with the reply in hand, half the
 * way there and back is the usual reckoning (RFC 5905, offset and round-trip delay), and both are kept as an event.
 */
export class Delivery {
  /**
   * @param {IDBDatabase} log
   * @param {{flight: string, device: string, address: string, key: string, epoch: string}} where
   * @param {() => void} changed
   */
  constructor(log, where, changed) {
    this.log = log;
    this.where = where;
    this.changed = changed;
    this.wait = SOONEST_MS;
    this.busy = false;
    this.comparedAt = -Infinity;
    /** @type {number | undefined} */
    this.timer = undefined;
    addEventListener("online", () => this.soon());
  }

  /** Try again shortly. */
  soon() {
    this.wait = SOONEST_MS;
    this.plan(50);
  }

  /** @param {number} delay */
  plan(delay) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.deliver(), delay);
  }

  async deliver() {
    if (this.busy) return;
    this.busy = true;
    try {
      let left = true;
      while (left) left = await this.one();
      this.wait = SOONEST_MS;
    } catch {
      this.wait = Math.min(2 * this.wait, LATEST_MS);
      this.plan(this.wait);
    } finally {
      this.busy = false;
    }
  }

  /** Deliver one batch. @returns {Promise<boolean>} whether more is left */
  async one() {
    const { flight, device, address, key, epoch } = this.where;
    const before = await counts(this.log, flight);
    const taps = await eventsAfter(this.log, flight, before.delivered, AT_ONCE);
    if (!taps.length) return false;
    const sent = { wall_ms: Date.now(), mono_ms: performance.now() };
    const reply = await post(address, { device, sent_ms: sent.wall_ms, taps }, key);
    const received = performance.now();
    await noteDelivered(this.log, flight, Number(reply.have));
    this.changed();
    if (Number(reply.have) <= before.delivered) throw new Error("nothing was received");
    if (received - this.comparedAt > COMPARE_EVERY_MS && Number.isFinite(reply.now_ms)) {
      this.comparedAt = received;
      const round_trip_ms = received - sent.mono_ms;
      const offset_ms = reply.now_ms - (sent.wall_ms + round_trip_ms / 2);
      await append(this.log, { flight, kind: "clock", ...sent, epoch, offset_ms, round_trip_ms });
    }
    return true;
  }
}
