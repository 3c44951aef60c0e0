// Keeps the files of the page, so that it opens without a network. The version is made from what
// the files hold: another build is another cache, taken up as a whole when no page of the one
// before is open any more.

const VERSION = "wyebench-@VERSION@";
const FILES = @FILES@;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(VERSION).then((cache) => cache.addAll(FILES)));
});

self.addEventListener("activate", (event) => {
  const old = (name) => name.startsWith("wyebench-") && name !== VERSION;
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== self.location.origin) return;
  event.respondWith(
    caches
      .open(VERSION)
      .then((cache) => cache.match(request, { ignoreSearch: true }))
      .then((kept) => kept || fetch(request)),
  );
});
