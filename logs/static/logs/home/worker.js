// Opens the patient's page without a network. It keeps the page's bare shell and what that loads,
// never a word about a patient: those are in the page's own store.
// VERSION and ASSETS are written in front by the server.
const CACHE = `home-${VERSION}`;
const SHELL = "/home/shell";

self.addEventListener("install", (event) => event.waitUntil(fill()));

// What has its content's hash in its name never changes: what the page fetched will do.
const freshness = (address) => (/\.[0-9a-f]{12}\./.test(address) ? "default" : "no-cache");

async function fill() {
  const cache = await caches.open(CACHE);
  await cache.addAll(ASSETS.map((address) => new Request(address, { cache: freshness(address) })));
  const answer = await fetch(SHELL, { credentials: "omit", cache: "no-store", redirect: "error" });
  const words = await answer.clone().text();
  // An answer of another network, or of another version, is no shell of this worker's.
  if (!answer.ok || !words.includes(`content="${VERSION}"`)) throw new Error("no shell");
  await cache.put(SHELL, answer);
}

self.addEventListener("activate", (event) => event.waitUntil(tidy()));

async function tidy() {
  const names = await caches.keys();
  await Promise.all(
    names.filter((name) => name.startsWith("home-") && name !== CACHE).map((name) => caches.delete(name)),
  );
}

// A newer worker waits until the page says that no session is open.
self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  if (request.mode === "navigate" && pathname === "/home/") event.respondWith(kept(SHELL, request));
  else if (ASSETS.includes(pathname)) event.respondWith(kept(pathname, request));
});

async function kept(address, request) {
  const cache = await caches.open(CACHE);
  return (await cache.match(address, { ignoreVary: true })) ?? fetch(request);
}
