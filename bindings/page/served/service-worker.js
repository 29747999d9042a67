// SPDX-License-Identifier: MIT
// Keeps the page where it was served from, so that it opens without a network; what the server has newer comes with the next visit.
const kept = "arris";
const parts = ["arris.html", "manifest.webmanifest", "icon.svg"];

self.addEventListener("install", (event) => event.waitUntil(caches.open(kept).then((cache) => cache.addAll(parts)).then(() => self.skipWaiting())));
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin || !parts.some((part) => url.pathname.endsWith(`/${part}`))) return;
  event.respondWith((async () => {
    const cache = await caches.open(kept);
    const bare = url.origin + url.pathname;
    const fresh = fetch(event.request).then((reply) => {
      if (reply.ok) cache.put(bare, reply.clone());
      return reply;
    });
    const there = await cache.match(bare);
    if (!there) return fresh;
    event.waitUntil(fresh.catch(() => {})); // without a network there is nothing newer
    return there;
  })());
});
