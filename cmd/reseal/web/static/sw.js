// Keeps the field pages working without a link. SHELL, set above, is what they
// load; the forms of a route are put in reseal-forms by the page that takes it
// along, and by a visit. All other pages go past here.
const NAME = "reseal-shell-" + SHELL.map(p => p.split("v=")[1]).join("").slice(0, 400);
const FORMS = "reseal-forms";
const PATIENCE_MS = 4000; // a link that is up but does not carry

addEventListener("install", e => e.waitUntil((async () => {
  await (await caches.open(NAME)).addAll(SHELL);
  await (await caches.open(FORMS)).addAll(["/inspect", "/findings/new"]);
  await skipWaiting();
})()));

addEventListener("activate", e => e.waitUntil((async () => {
  for (const name of await caches.keys()) if (name.startsWith("reseal-shell-") && name !== NAME) await caches.delete(name);
  await clients.claim();
})()));

addEventListener("fetch", e => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) e.respondWith(asset(e.request, url));
  else if (e.request.mode === "navigate" && (url.pathname === "/inspect" || url.pathname.startsWith("/inspect/") || url.pathname.startsWith("/findings"))) e.respondWith(page(e.request, url));
});

async function fetchSoon(request) {
  const late = new Promise((_, fail) => setTimeout(() => fail(new TypeError("late")), PATIENCE_MS));
  return Promise.race([fetch(request), late]);
}

async function asset(request, url) {
  const kept = await caches.open(NAME);
  if (url.search) {
    const same = await kept.match(request);
    if (same) return same;
  }
  const spare = await kept.match(request, {ignoreSearch: true});
  try {
    return spare ? await fetchSoon(request) : await fetch(request);
  } catch (e) {
    if (spare) return spare;
    throw e;
  }
}

async function page(request, url) {
  const kept = await caches.open(FORMS), path = url.pathname + url.search;
  const spare = await kept.match(path) || (url.pathname === "/findings/new" ? await kept.match("/findings/new") : undefined);
  try {
    const r = spare ? await fetchSoon(request) : await fetch(request);
    if (r.ok && !r.redirected && url.pathname !== "/findings") await kept.put(path, r.clone());
    return r;
  } catch (e) {
    if (spare) return spare;
    return new Response(`<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>No link – reseal</title>
<link rel="stylesheet" href="/static/base.css"><main><h1>No link</h1><p>This page is not on the phone. What was taken along is under <a href="/inspect">Inspect</a>; a finding can be <a href="/findings/new">reported</a>, and is sent later.</p></main></html>`,
    {status: 503, headers: {"Content-Type": "text/html; charset=utf-8"}});
  }
}
