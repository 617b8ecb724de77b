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

/** What waits, always in sight. */
export function drawStrip() {
  const strip = document.getElementById("strip");
  const part = (name) => strip.querySelector(`[data-f=${name}]`);
  const n = outbox.counts(state.entries, state.who);
  const many = (name, count) => say(count === 1 ? `one_${name}` : `many_${name}`, { n: count });
  let [mark, head, tail, kind] = ["✓", say("all_sent"), say("nothing_waits"), ""];
  if (n.refused) [mark, head, tail, kind] = ["!", many("refused", n.refused), say("look_why"), "look"];
  else if (n.review) [mark, head, tail] = [n.review, many("review", n.review), say("nothing_to_do")];
  if (n.waiting) {
    tail = say(state.sending === "offline" || !navigator.onLine ? "no_signal" : "will_try");
    if (state.sending === "signed-out") tail = say("sign_in_to_send");
    [mark, head, kind] = [n.waiting, say(n.waiting === 1 ? "one_waits" : "many_wait", { n: n.waiting }), "waiting"];
    if (state.sending === "now") [head, tail] = [say("sending", { n: n.waiting }), say("stay")];
    if (n.refused) tail = many("refused", n.refused);
  }
  if (!n.waiting && state.photos) {
    const tried = state.sending === "offline" || !navigator.onLine;
    [mark, head, tail, kind] = [state.photos, many("photo_waits", state.photos), say(tried ? "no_signal" : "will_try"), "waiting"];
  }
  if (!n.waiting && n.others) tail = say(n.others === 1 ? "one_others_wait" : "many_others_wait", { n: n.others });
  part("mark").textContent = mark;
  part("head").textContent = head;
  part("tail").textContent = tail;
  part("act").textContent = say("see");
  strip.className = `strip ${kind}`;
}

let timer = 0;
let again = false;

/** Send what waits, one tab at a time. Asked meanwhile, it runs once more. */
export async function send() {
  clearTimeout(timer);
  if (state.sending === "now") return void (again = true);
  const mine = outbox.counts(state.entries, state.who);
  if (mine.waiting === 0 && mine.others === 0) return state.photos ? sendPhotos() : undefined;
  state.sending = "now";
  drawStrip();
  const run = (lock) => (lock === null ? { state: "busy" } : outbox.sendAll(io));
  let result;
  try {
    result = navigator.locks ? await navigator.locks.request("sugarbush-sending", { ifAvailable: true }, run) : await run();
  } catch {
    result = { state: "busy" };
  }
  state.sending = result.state;
  state.entries = await disk.all();
  drawStrip();
  if (result.sent) await fetchPack();
  const left = outbox.counts(state.entries, state.who).waiting;
  state.failures = result.sent ? 0 : state.failures + 1;
  if (again) {
    again = false;
    return send();
  }
  if (!left && state.photos) await sendPhotos();
  if (left && result.state !== "signed-out") timer = setTimeout(send, outbox.pause(state.failures));
  page.redraw();
}

let busy = false;

/** Photos go when no entry waits any more, each by itself. */
async function sendPhotos() {
  if (busy || !navigator.onLine) return;
  busy = true;
  try {
    const photos = await import("./photos.js");
    const hello = await io.hello();
    if (hello.code || hello.person !== state.who) return;
    const post = async (photo) =>
      answered(
        await ask(`${urls.photos}?id=${photo.id}&entry=${photo.entry}`, {
          method: "POST",
          headers: { "Content-Type": "image/jpeg", "X-CSRFToken": hello.secret },
          body: photo.bytes,
        }),
      );
    const run = () => photos.sendAll({ ...photos.store, entries: disk.all, person: state.who, post });
    state.failures = 0;
    await (navigator.locks ? navigator.locks.request("sugarbush-photos", run) : run());
  } catch {
    state.failures += 1;
  } finally {
    busy = false;
    await countPhotos();
    clearTimeout(timer);
    if (state.photos) timer = setTimeout(send, outbox.pause(state.failures + 1));
    page.redraw();
  }
}

/** How many photos of this person wait, for the strip. */
export async function countPhotos() {
  const { all } = await import("./photos.js");
  const kept = await all().catch(() => []);
  state.photos = kept.filter((photo) => photo.person === state.who && photo.state === "waiting").length;
  drawStrip();
}

/** Take the photos of this round's trees along, quietly, unless the line is to be spared. */
export async function takePictures() {
  if (!state.pack || !navigator.serviceWorker?.controller || navigator.connection?.saveData) return;
  const wanted = state.pack.trees.map((tree) => page.pictureOf(tree)).filter(Boolean);
  const before = state.pictures.size;
  state.pictures = await disk.takeTreePhotos(wanted).catch(() => state.pictures);
  if (state.pictures.size !== before) page.redraw();
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
  takePictures();
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

/** A page that was on its way while the worker began belongs to none; it asks for it, and waits no longer than 2 s. */
export async function claimed() {
  const { active } = (await navigator.serviceWorker?.ready) ?? {};
  if (!active || navigator.serviceWorker.controller) return;
  await new Promise((done) => {
    navigator.serviceWorker.addEventListener("controllerchange", done, { once: true });
    setTimeout(done, 2000);
    active.postMessage("claim");
  });
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
