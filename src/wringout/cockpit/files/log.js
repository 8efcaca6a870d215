// @ts-check
/**
 * The log of taps on this device: append-only, kept in the browser's own database, written through before it is said.
 *
 * Every event gets its place in the log inside the transaction that writes it, so two windows on one device cannot give
 * the same place twice, and an event is there whole or not at all. Nothing is ever changed or removed; taking a tap back
 * is one more event.
 */

/**
 * @typedef {Object} Tap
 * @property {string} flight  which flight it belongs to
 * @property {number} sequence  place in this device's log of that flight, from 1, without gaps
 * @property {string} kind  open, point, mark, reading, timer, note, undo, sight or clock
 * @property {number} wall_ms  the device's own date and time, ms since 1970 UTC
 * @property {number} mono_ms  a clock that is never set, ms since the page was opened
 * @property {string} epoch  which opening of the page mono_ms counts from
 * @property {string} [label]  words of a mark, timer or point
 * @property {number} [value]  of a reading
 * @property {string} [unit]  of a reading
 * @property {string} [phase]  of a timer: start or stop
 * @property {string} [text]  of a note
 * @property {number} [of]  the place that an undo takes back
 * @property {number} [offset_ms]  of a clock comparison: the other clock less this one
 * @property {number} [round_trip_ms]  of a clock comparison
 * @property {boolean} [visible]  of a sight event: whether the page can be seen
 * @property {number} [zone_min]  of an opening: minutes that local time is ahead of UTC
 */

const NAME = "wringout-capture";
const LOG = "log";
const HEADS = "heads";
const WORDS = "words";

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
function answer(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** @param {IDBTransaction} transaction @returns {Promise<void>} */
function kept(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });
}

/** Open the log, made on first use. @returns {Promise<IDBDatabase>} */
export function openLog() {
  const request = indexedDB.open(NAME, 1);
  request.onupgradeneeded = () => {
    request.result.createObjectStore(LOG, { keyPath: ["flight", "sequence"] });
    request.result.createObjectStore(HEADS, { keyPath: "flight" });
    request.result.createObjectStore(WORDS);
  };
  return answer(request);
}

/**
 * Write one event through to the disk and return it with its place. It resolves only when the transaction is complete.
 * @param {IDBDatabase} log @param {Omit<Tap, "sequence">} event @returns {Promise<Tap>}
 */
export async function append(log, event) {
  const transaction = log.transaction([LOG, HEADS], "readwrite", { durability: "strict" });
  const done = kept(transaction);
  const heads = transaction.objectStore(HEADS);
  const head = (await answer(heads.get(event.flight))) || { flight: event.flight, last: 0, delivered: 0 };
  const tap = /** @type {Tap} */ ({ ...event, sequence: head.last + 1 });
  transaction.objectStore(LOG).add(tap);
  heads.put({ ...head, last: tap.sequence });
  await done;
  return tap;
}

/** @param {string} flight @param {number} after */
function placesAfter(flight, after) {
  return IDBKeyRange.bound([flight, after], [flight, Infinity], true, false);
}

/**
 * Return the events of a flight after a place, in order.
 * @param {IDBDatabase} log @param {string} flight @param {number} [after] @param {number} [most] @returns {Promise<Tap[]>}
 */
export function eventsAfter(log, flight, after = 0, most = undefined) {
  return answer(log.transaction(LOG).objectStore(LOG).getAll(placesAfter(flight, after), most));
}

/**
 * Return how many events of a flight there are and how many of them were received elsewhere.
 * @param {IDBDatabase} log @param {string} flight @returns {Promise<{last: number, delivered: number}>}
 */
export async function counts(log, flight) {
  return (await answer(log.transaction(HEADS).objectStore(HEADS).get(flight))) || { last: 0, delivered: 0 };
}

/**
 * Note that everything up to a place was received elsewhere. Never goes back.
 * @param {IDBDatabase} log @param {string} flight @param {number} delivered
 */
export async function noteDelivered(log, flight, delivered) {
  const transaction = log.transaction(HEADS, "readwrite");
  const done = kept(transaction);
  const heads = transaction.objectStore(HEADS);
  const head = await answer(heads.get(flight));
  if (head && delivered > head.delivered) heads.put({ ...head, delivered: Math.min(delivered, head.last) });
  await done;
}

/** @param {IDBDatabase} log @returns {Promise<string[]>} flights that have events on this device */
export async function flights(log) {
  const keys = await answer(log.transaction(HEADS).objectStore(HEADS).getAllKeys());
  return keys.map(String);
}

/** Keep one word of this device (its name, the card last used). @param {IDBDatabase} log @param {string} key @param {unknown} value */
export async function keepWord(log, key, value) {
  const transaction = log.transaction(WORDS, "readwrite", { durability: "strict" });
  const done = kept(transaction);
  transaction.objectStore(WORDS).put(value, key);
  await done;
}

/** @param {IDBDatabase} log @param {string} key @returns {Promise<any>} */
export function word(log, key) {
  return answer(log.transaction(WORDS).objectStore(WORDS).get(key));
}

/** A short random name; made without crypto.randomUUID, which plain addresses on a local network do not get. @returns {string} */
export function randomName() {
  const bytes = crypto.getRandomValues(new Uint8Array(8));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Return what still stands: events that were not taken back, in order. An undo of an undo is not offered.
 * @param {Tap[]} events @returns {Tap[]}
 */
export function standing(events) {
  const undone = new Set(events.filter((event) => event.kind === "undo").map((event) => event.of));
  return events.filter((event) => event.kind !== "undo" && !undone.has(event.sequence));
}
