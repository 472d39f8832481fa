// What the tablet keeps of this bench so that it opens without a network: its page, its files, its last state.
// Needs HTTPS or localhost; without them everything but this works.

const COUNTED_WITHIN_MS = 500;
const KEPT_WITHIN_MS = 30_000;
const page = document.getElementById("bench");
const person = JSON.parse(document.getElementById("bench-person").textContent);
const cacheName = `siltbook-bench/${person.pk}${location.pathname}`;

export const servedByTablet = page.dataset.served === "tablet";
export const canOpenOffline = "serviceWorker" in navigator && "caches" in window;

export async function keepBench() {
  if (!canOpenOffline) return;
  const worker = `${page.dataset.worker}?${new URLSearchParams({ files: page.dataset.files })}`;
  await navigator.serviceWorker.register(worker, { scope: location.pathname });
  const { active } = await navigator.serviceWorker.ready;
  const names = performance.getEntriesByType("resource").map(({ name }) => name);
  const files = [...new Set(names)].filter((name) => new URL(name).pathname.startsWith(page.dataset.files));
  if (!servedByTablet) await askWorker(active, { act: "keep", person: person.pk, files }, KEPT_WITHIN_MS);
}

/* Its answer, or null when it takes longer than that. */
function askWorker(worker, message, withinMs) {
  return new Promise((resolve) => {
    const { port1, port2 } = new MessageChannel();
    const timer = setTimeout(resolve, withinMs, null);
    port1.onmessage = ({ data }) => {
      clearTimeout(timer);
      resolve(data);
    };
    worker.postMessage(message, [port2]);
  });
}

/* Only beside a page that is kept: after a log-out nothing is put back. */
export async function keepState(state) {
  if (!canOpenOffline || !(await caches.has(cacheName))) return;
  const cache = await caches.open(cacheName);
  await cache.put(
    page.dataset.state,
    new Response(JSON.stringify(state), { headers: { "Content-Type": "application/json" } }),
  );
}

export async function keptState() {
  if (!canOpenOffline || !(await caches.has(cacheName))) return null;
  const found = await (await caches.open(cacheName)).match(page.dataset.state);
  return found ? found.json() : null;
}

export async function forgetBench() {
  if (canOpenOffline) await caches.delete(cacheName);
}

/* The counter of the worker behind this page, or null when there is none or it answers too late to be of use. */
export function workerCounter() {
  const worker = navigator.serviceWorker?.controller;
  return worker ? askWorker(worker, { act: "counter" }, COUNTED_WITHIN_MS) : null;
}
