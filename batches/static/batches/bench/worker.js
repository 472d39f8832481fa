// The bench without a network: a tablet keeps a page of the bench for one person, and the files it is made of.
// Nothing else is kept or answered here. Whoever logs out, or is found logged out, leaves nothing behind.

const KEPT = "siltbook-bench/";
const FILES = new URL(self.location.href).searchParams.get("files"); // where static files lie
const MOST_PAGES = 6;
const PATIENCE_MS = 4000;
const SELF = crypto.getRandomValues(new Uint32Array(2)).join("-");
const bench = new URL(self.registration.scope).pathname;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (request.mode === "navigate" && pathname === bench) event.respondWith(page(event));
  else if (pathname.startsWith(FILES)) event.respondWith(file(request));
});

self.addEventListener("message", (event) => {
  const { act, person, files } = event.data;
  if (act === "keep") event.waitUntil(keep(person, files).then(() => event.ports[0].postMessage("kept")));
  // A counter that goes on while the page is loaded anew, and a name for as long as it does.
  if (act === "counter") event.ports[0].postMessage({ worker: SELF, counterMs: performance.now() });
});

const nameFor = (person) => `${KEPT}${person}${bench}`;
const placeOf = (name) => name.slice(KEPT.length).replace(/^\d+/, "");
const ofThisBench = async () =>
  (await caches.keys()).filter((name) => name.startsWith(KEPT) && placeOf(name) === bench);
const isHashed = (address) => /\.[0-9a-f]{12}\.\w+$/.test(new URL(address).pathname);

async function keptPage() {
  for (const name of await ofThisBench()) {
    const found = await (await caches.open(name)).match(bench, { ignoreVary: true });
    if (found) return found;
  }
  return null;
}

async function page(event) {
  const kept = await keptPage();
  const asked = fetch(event.request);
  if (!kept) {
    const answer = await asked;
    event.waitUntil(store(answer.clone()));
    return answer;
  }
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, null));
  const answer = await Promise.race([asked.catch(() => null), late]);
  if (!answer || answer.status >= 500) return fromTablet(kept);
  if (answer.ok) event.waitUntil(store(answer.clone()));
  else await forget(await ofThisBench()); // sent to the log-in, or no longer allowed
  return answer;
}

/* The page learns from one word that its time and facts are old ones. */
async function fromTablet(kept) {
  const words = await kept.text();
  const headers = new Headers(kept.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  return new Response(words.replace('data-served="laboratory"', 'data-served="tablet"'), { headers });
}

async function file(request) {
  const kept = await caches.match(request, { ignoreVary: true });
  if (kept && isHashed(request.url)) return kept;
  try {
    return await fetch(request);
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

/* Only a page the laboratory made for a named person is stored. */
async function store(answer) {
  const person = answer.headers.get("Siltbook-Person");
  if (!answer.ok || answer.redirected || !person) return false;
  await forget(
    (await caches.keys()).filter((name) => name.startsWith(KEPT) && !name.startsWith(`${KEPT}${person}/`)),
  );
  await (await caches.open(nameFor(person))).put(bench, answer);
  return true;
}

async function keep(person, files) {
  if (!(await caches.has(nameFor(person)))) {
    const stored = await store(await fetch(bench, { headers: { Accept: "text/html" } }));
    if (!stored || !(await caches.has(nameFor(person)))) return;
  }
  const cache = await caches.open(nameFor(person));
  for (const address of files) {
    if (!isHashed(address) || !(await cache.match(address, { ignoreVary: true }))) await cache.add(address);
  }
  const wanted = new Set(files);
  for (const { url } of await cache.keys()) {
    if (new URL(url).pathname.startsWith(FILES) && !wanted.has(url)) await cache.delete(url);
  }
  const names = (await caches.keys()).filter((name) => name.startsWith(KEPT) && name !== nameFor(person));
  await forget(names.slice(0, Math.max(0, names.length - MOST_PAGES + 1)));
}

async function forget(names) {
  await Promise.all(names.map((name) => caches.delete(name)));
}
