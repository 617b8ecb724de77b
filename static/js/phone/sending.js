// Sending what waits and fetching the round anew, the worker that does so too, and its newer version.
import * as disk from "./disk.js";
import * as outbox from "./outbox.js";
import * as round from "./round.js";

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, say, state, urls;
export const meet = (given) => ({ say, state, urls } = page = given);

const ask = (url, how = {}) =>
  fetch(url, { cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(30_000), ...how });

async function answered(response) {
  const kind = response.headers.get("Content-Type") ?? "";
  if (!kind.includes("json")) throw new Error(`answered ${response.status}`);
  if (response.status >= 500) throw new Error(`answered ${response.status}`);
  return response.json();
}

const io = {
  all: disk.all,
  put: async (entries) => {
    await disk.put(entries);
    await page.changed();
  },
  clock: () => page.clock(),
  hello: async () => answered(await ask(urls.outbox)),
  post: async (batch, secret) =>
    answered(
      await ask(urls.outbox, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": secret },
        body: JSON.stringify(batch),
      }),
    ),
  heard: async (hello) => {
    await contact(hello.now_ms);
    state.who = hello.person;
    await disk.setNote("who", hello.person);
    if (state.pack && state.pack.person.key !== hello.person) {
      // Somebody else has signed in on this phone: the round of the one before is put away. What they wrote stays.
      Object.assign(state, { pack: null, tag: "", news: [], later: [], emptied_ms: 0 });
      await disk.forget(hello.person);
      await fetchPack();
    }
  },
};

export async function contact(server_ms) {
  state.contact = { server_ms, phone_ms: Date.now() };
  await disk.setNote("contact", state.contact);
  const off = Math.round((server_ms - Date.now()) / 60_000);
  page.put(document.querySelector("footer [data-f=clock]"), Math.abs(off) > 10 ? say("clock_off", { n: Math.abs(off) }) : "");
}

let timer = 0;
let again = false;

/** Send what waits, one tab at a time. Asked meanwhile, it runs once more. */
export async function send() {
  clearTimeout(timer);
  if (state.sending === "now") return void (again = true);
  const mine = outbox.counts(state.entries, state.who);
  if (mine.waiting === 0 && mine.others === 0) return;
  state.sending = "now";
  page.drawStrip();
  const run = (lock) => (lock === null ? { state: "busy" } : outbox.sendAll(io));
  let result;
  try {
    result = navigator.locks ? await navigator.locks.request("sugarbush-sending", { ifAvailable: true }, run) : await run();
  } catch {
    result = { state: "busy" };
  }
  state.sending = result.state;
  state.entries = await disk.all();
  page.drawStrip();
  if (result.sent) await fetchPack();
  const left = outbox.counts(state.entries, state.who).waiting;
  state.failures = result.sent ? 0 : state.failures + 1;
  if (again) {
    again = false;
    return send();
  }
  if (left && result.state !== "signed-out") timer = setTimeout(send, outbox.pause(state.failures));
  page.redraw();
}

/** The pack anew, if it has changed. What changed is told before the next tree. */
export async function fetchPack(group = state.pack?.group?.id ?? "") {
  let response;
  try {
    response = await ask(`${urls.pack}?group=${group}`, { headers: state.tag ? { "If-None-Match": state.tag } : {} });
  } catch {
    return "offline";
  }
  const server_ms = Number(response.headers.get("Sugarbush-Now"));
  if (response.status === 403) return (await response.json().catch(() => ({}))).code ?? "offline";
  if (response.status === 404 && group) return fetchPack("");
  if (response.status !== 304 && !response.ok) return "offline";
  if (server_ms) await contact(server_ms);
  if (response.status === 304) return "same";
  await keepPack(await response.json(), response.headers.get("ETag") ?? "");
  page.redraw();
  return "new";
}

export async function keepPack(pack, tag) {
  if (state.who && state.who !== pack.person.key) await disk.forget(pack.person.key);
  const news = [...state.news, ...round.changes(state.pack, pack)];
  Object.assign(state, { pack, tag, who: pack.person.key, news, old: false });
  try {
    const key = `${pack.person.key}/${pack.group?.id ?? ""}`;
    await disk.putPack({ key, pack, tag, got_ms: Date.now() });
    await disk.setNote("here", key);
    await disk.setNote("who", pack.person.key);
    await disk.setNote("news", news);
  } catch {
    page.stop(say("small"));
  }
}

/** Another group's round, if it was taken along or there is signal. */
export async function changeGroup(id) {
  const kept = await disk.pack(`${state.who}/${id}`);
  if (kept) {
    Object.assign(state, { pack: kept.pack, tag: kept.tag });
    await disk.setNote("here", kept.key);
    fetchPack(id);
  } else {
    state.tag = "";
    if ((await fetchPack(id)) === "offline") return page.stop(say("no_pack_why"));
  }
  page.go("all");
}

// The worker

let worker = null;

export async function register() {
  if (!navigator.serviceWorker) return;
  try {
    worker = await navigator.serviceWorker.register(urls.worker, { scope: urls.root, type: "module", updateViaCache: "none" });
  } catch {
    worker = await navigator.serviceWorker.register(`${urls.worker}?classic`, { scope: urls.root, updateViaCache: "none" }).catch(() => null);
  }
  worker?.addEventListener("updatefound", watchNewer);
  if (worker?.waiting) newer();
}

function watchNewer() {
  const coming = worker.installing;
  coming?.addEventListener("statechange", () => {
    if (coming.state === "installed" && navigator.serviceWorker.controller) newer();
  });
}

/** A newer version waits: used when asked for, or when the page is out of sight and nothing is being typed. */
function newer() {
  const box = document.querySelector("footer [data-f=newer]");
  box.hidden = false;
  box.querySelector("p").textContent = say("newer");
  box.querySelector("button").onclick = takeOver;
}

export function takeOver() {
  if (!worker?.waiting) return;
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  worker.waiting.postMessage("take over");
}

export async function askForSync() {
  if (outbox.counts(state.entries, state.who).waiting === 0) return;
  await worker?.sync?.register("send").catch(() => undefined);
}
