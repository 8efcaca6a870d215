// @ts-check
/** Keeps the page of taps so that it opens without the network; never stands between the page and what it delivers. */
const KEPT = "wringout-capture-1";
const FILES = ["./", "capture.css", "page.js", "card.js", "log.js", "handover.js", "icon.svg", "manifest.webmanifest"];
const worker = /** @type {any} */ (self);

worker.addEventListener("install", (/** @type {any} */ event) => {
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(FILES)));
  worker.skipWaiting();
});

worker.addEventListener("activate", (/** @type {any} */ event) => {
  event.waitUntil(worker.clients.claim());
});

/** @param {Request} request */
async function freshOrKept(request) {
  const cache = await caches.open(KEPT);
  try {
    const response = await fetch(request);
    if (response.ok) await cache.put(request, response.clone());
    return response;
  } catch (error) {
    const found = (await cache.match(request)) || (request.mode === "navigate" ? await cache.match("./") : undefined);
    if (found) return found;
    throw error;
  }
}

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  if (event.request.method === "GET") event.respondWith(freshOrKept(event.request));
});
