// The service worker. KEPT, outbox and disk stand above this: the server writes them, with the version, when it sends it.
// It keeps the page of the round and its files, never anybody's data, and answers for nothing else.

const NAME = `round${KEPT.home}-${KEPT.version}`;

self.addEventListener("install", (event) => {
  // All or nothing: a worker that could not get every file is not used.
  event.waitUntil(
    caches.open(NAME).then(async (cache) => {
      await cache.addAll(KEPT.files);
      for (const page of [KEPT.shell, KEPT.no_signal]) {
        const answer = await fetch(page, { cache: "no-store" });
        if (!answer.ok || answer.redirected) throw new Error(`not kept: ${page}`);
        await cache.put(page, answer);
      }
    }),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name.startsWith(`round${KEPT.home}-`) && name !== NAME) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

// Only when the page says so: it knows whether anything is being typed.
self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  if (event.data === "claim") event.waitUntil(self.clients.claim());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    if (request.method === "GET") event.respondWith(toPage(request, url));
    else if (KEPT.leaving.includes(url.pathname) || KEPT.coming.some((path) => url.pathname.startsWith(path)))
      event.respondWith(toSignInOrOut(request, url));
    return;
  }
  if (request.destination === "image" && url.pathname.startsWith(KEPT.tree_photos))
    event.respondWith(caches.match(request).then((answer) => answer ?? fetch(request)));
  else if (request.method === "GET" && KEPT.files.includes(url.pathname + url.search))
    event.respondWith(kept(url.pathname + url.search).then((answer) => answer ?? fetch(request)));
});

const kept = async (path) => (await caches.open(NAME)).match(path);

async function toPage(request, url) {
  if (url.pathname === KEPT.round && url.search === "") {
    const page = await kept(KEPT.shell);
    if (page) return page;
  }
  try {
    return await fetch(request);
  } catch {
    // A tag scanned where there is no signal: the tree, as the phone has taken it along.
    if (url.pathname.startsWith(KEPT.tag)) {
      const code = url.pathname.slice(KEPT.tag.length).replace(/\/$/, "").toUpperCase();
      return Response.redirect(`${KEPT.round}#${code}`);
    }
    const page = await kept(KEPT.no_signal);
    return page ? new Response(page.body, { status: 503, headers: page.headers }) : Response.error();
  }
}

/** Whoever comes or goes, the round of the one before is put away; what waits to be sent stays until its writer is back. */
async function toSignInOrOut(request, url) {
  const answer = await fetch(request);
  await forget().catch(() => undefined);
  return answer;
}

async function forget() {
  if (disk) return disk.forget("");
  const base = await new Promise((done, failed) => {
    const asked = indexedDB.open(`sugarbush${KEPT.home}`);
    asked.onupgradeneeded = () => asked.transaction.abort();
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
  base.transaction(["packs"], "readwrite").objectStore("packs").clear();
  await caches.delete(`tree-photos${KEPT.home}`);
  base.close();
}

// Signal is back and no page is open: send what waits, where this browser's worker may.
self.addEventListener("sync", (event) => {
  if (event.tag === "send" && outbox && disk) event.waitUntil(sendInBackground());
});

async function sendInBackground() {
  const open = await self.clients.matchAll({ type: "window" });
  if (open.some((client) => new URL(client.url).pathname === KEPT.round)) return;
  const session = "worker";
  const radio = new BroadcastChannel("sugarbush");
  const json = async (how) => {
    const answer = await fetch(KEPT.outbox, { cache: "no-store", credentials: "same-origin", ...how });
    if (answer.status >= 500 || !(answer.headers.get("Content-Type") ?? "").includes("json")) throw new Error("no answer");
    return answer.json();
  };
  const io = {
    all: disk.all,
    put: async (entries) => {
      await disk.put(entries);
      radio.postMessage("changed");
    },
    clock: () => ({ now_ms: Date.now(), mono_ms: performance.now(), session, contact: null }),
    hello: () => json({}),
    post: (batch, secret) =>
      json({
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": secret },
        body: JSON.stringify(batch),
      }),
  };
  const result = await navigator.locks.request("sugarbush-sending", { ifAvailable: true }, (lock) =>
    lock ? outbox.sendAll(io) : { state: "busy" },
  );
  if (["offline", "busy"].includes(result.state)) throw new Error("try again");
}
