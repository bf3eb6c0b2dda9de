// Keeps the pages of the course that were opened, so that a lesson can be read in a
// kitchen without a network. It asks the network first: what is kept is shown only when
// no answer comes. Nothing that was answered, planned or typed is kept here, but for the
// kitchen sheet of a batch, which is needed beside the stove: it is kept apart, and goes
// when its student logs out. So are lessons that hold something written for a class.
const kept = "course-1";
const sheets = "sheets-1";
const ofClass = (page) => page.headers.has("Of-Class");
const isSheet = (path) => /^\/batches\/[^/]+\/kitchen$/.test(path);
const isCourse = (path) => path === "/" || /^\/(lessons|times|glossary|rules|sources|bench|booklet|wall|assets)(\/|$)/.test(path);

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim().then(keepOpen)));

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (url.origin !== self.location.origin) return;
  if (event.request.method === "POST" && url.pathname === "/my-work/forget") {
    event.waitUntil(Promise.all([caches.delete(kept), caches.delete(sheets)]));
    return;
  }
  if (event.request.method === "POST" && url.pathname === "/logout") {
    event.waitUntil(caches.delete(sheets));
    return;
  }
  // A part of a file, as a player asks for it, cannot be kept.
  if (event.request.method !== "GET" || event.request.headers.has("Range") || !isCourse(url.pathname) && !isSheet(url.pathname)) return;
  event.respondWith(answer(event.request, url));
});

async function answer(request, url) {
  const own = await caches.open(sheets), cache = await caches.open(kept);
  if (url.pathname.startsWith("/assets/")) {
    // The address changes with the content: what is kept is right for ever.
    const held = await cache.match(request);
    if (held) return held;
  }
  let fresh;
  try {
    fresh = await fetch(request);
  } catch {
    for (const address of [request, url.pathname]) {
      const held = (await own.match(address)) ?? (await cache.match(address));
      if (held) return held;
    }
    return nothing();
  }
  if (fresh.status === 200 && !fresh.redirected) {
    const to = isSheet(url.pathname) || ofClass(fresh) ? own : cache;
    if (to === cache) await own.delete(request);
    // A full disk must not take the answer away.
    await to.put(request, await withoutAsked(fresh.clone(), url)).catch(() => {});
  }
  return fresh;
}

// A lesson may end with what one student asked. The next person at this browser must not
// read it there, so it is not kept.
async function withoutAsked(page, url) {
  if (!url.pathname.startsWith("/lessons/")) return page;
  const text = (await page.text()).replace(/<section id="ask"[^]*?<\/section>/, "");
  return new Response(text, { status: page.status, headers: page.headers });
}

// keepOpen keeps the page that brought this script, with its style: both were asked for
// before it could listen.
async function keepOpen() {
  const keep = async (address) => {
    const request = new Request(address);
    return (await answer(request, new URL(request.url))).text();
  };
  for (const client of await self.clients.matchAll()) {
    if (!isCourse(new URL(client.url).pathname)) continue;
    const page = await keep(client.url);
    for (const [address] of page.matchAll(/\/assets\/[^"]+/g)) await keep(address);
  }
}

function nothing() {
  const text = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>No network</title>" +
    "<h1>No network, and this page was not opened before</h1><p>Go back to a page that was. What you have sent is safe.</p>" +
    "<p>This course teaches. It does not approve your jars. Follow a tested recipe, and ask your extension service. When in doubt, throw it out.</p>";
  return new Response(text, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
