"use strict";

/* The service worker of /field/. It keeps the frame, the words, the styles, the scripts and the icons of one
   version, and nothing else: orders, doors and acts never pass through a cache. self.FIELD is written above this
   file by the server: version, header, shell, kept, later. */

const { version, header, shell, kept, later } = self.FIELD;
const OURS = "field-";
const CACHE = OURS + version;
const FILES = new Set([...kept, ...later]);
// A cellar answers late or never: after this long the kept frame is shown.
const PATIENCE_MS = 4000;

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("message", (event) => {
  if (event.data === "keep-the-rest") event.waitUntil(keepTheRest());
  if (event.data === "take-over") event.waitUntil(self.skipWaiting());
  if (event.data === "which-version") event.source.postMessage({ version });
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    if (address.pathname === shell) event.respondWith(answerPage(request));
  } else if (FILES.has(address.pathname)) {
    event.respondWith(answerFile(request, address.pathname));
  }
});

async function install() {
  const cache = await caches.open(CACHE);
  await Promise.all([keepShell(cache), ...kept.map((name) => keep(cache, name))]);
  await self.skipWaiting();
}

async function activate() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith(OURS) && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function keep(cache, name) {
  const answer = await fetch(name, { cache: "reload" });
  if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
  // Words of another language belong to another version.
  if (answer.headers.has(header) && !isOurs(answer)) throw new Error(`${name} is not of this version.`);
  await cache.put(name, answer);
}

/* A frame of another version would ask for other files: then this worker is not installed at all. */
async function keepShell(cache) {
  const answer = await fetch(shell, { cache: "reload", redirect: "error" });
  if (!isOurs(answer)) throw new Error("The frame is not of this version.");
  await cache.put(shell, answer);
}

async function keepTheRest() {
  const cache = await caches.open(CACHE);
  for (const name of later) {
    if (!(await cache.match(name))) await keep(cache, name);
  }
}

function isOurs(answer) {
  return answer.ok && answer.headers.get(header) === version;
}

/* The network first. What is neither a newer frame nor a fault (the way to the sign-in, the page for people
   of other trades) passes through as it is, and is not kept. */
async function answerPage(request) {
  const cache = await caches.open(CACHE);
  const mine = await cache.match(shell);
  if (!mine) return fetch(request);
  const asked = fetch(request).catch(() => null);
  const answer = await Promise.race([asked, afterPatience()]);
  if (answer && answer.status < 500 && !isOfAnother(answer)) return answer;
  asked.then(leave);
  return mine;
}

/* A newer frame is shown once all of its files are here: no page is made of two versions. An answer that nobody
   reads, also one that came too late, would keep this worker at work, and the newer one waiting. */
function leave(answer) {
  if (answer && isOfAnother(answer)) self.registration.update().catch(() => {});
  answer?.body?.cancel();
}

function isOfAnother(answer) {
  return answer.ok && answer.headers.has(header) && !isOurs(answer);
}

function afterPatience() {
  return new Promise((resolve) => { setTimeout(resolve, PATIENCE_MS, null); });
}

async function answerFile(request, name) {
  const cache = await caches.open(CACHE);
  return (await cache.match(name)) ?? fetch(request);
}
