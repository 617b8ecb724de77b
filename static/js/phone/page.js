// The round on the phone: opens what is kept, draws the next tree, writes entries to disk, sends them when it can.
import * as disk from "./disk.js";
import * as outbox from "./outbox.js";
import * as round from "./round.js";

const setup = JSON.parse(document.getElementById("setup").textContent);
const { urls, language } = setup;
const main = document.getElementById("main");
const session = crypto.randomUUID();
const radio = "BroadcastChannel" in self ? new BroadcastChannel("sugarbush") : null;

const state = {
  pack: null,
  tag: "",
  entries: [],
  contact: null,
  who: "", // whose page this is: the last person the server named, else the pack's
  emptied_ms: 0,
  later: [],
  news: [],
  saved: null,
  old: false,
  sending: "", // "", "now", or how the last try ended
  failures: 0,
  typing: false,
};

/** A sentence in the reader's language, its gaps filled. */
const say = (name, gaps = {}) => (setup.words[name] ?? name).replace(/\{(\w+)\}/g, (_all, gap) => gaps[gap] ?? "");

/** A screen from its template: the fragment, and its parts by name. */
function screen(id) {
  const root = document.getElementById(id).content.cloneNode(true);
  const parts = {};
  for (const part of root.querySelectorAll("[data-f]")) parts[part.dataset.f] ??= part;
  return { root, f: parts };
}

function put(part, text) {
  part.textContent = text;
  part.hidden = !text;
}

/** Show a screen: the heading is read out, the way in is not. */
function show(root, title, { plain = false, quiet = false } = {}) {
  if (quiet) {
    // Nothing is taken from under a finger for nothing: the same screen stays as it stands.
    const probe = document.createElement("main");
    probe.append(root.cloneNode(true));
    if (probe.innerHTML === main.innerHTML) return;
  }
  const reachable = () => [...main.querySelectorAll("a, button, input, select, summary")];
  const focused = quiet ? reachable().indexOf(document.activeElement) : -1;
  main.replaceChildren(root);
  reachable()[focused]?.focus({ preventScroll: true });
  main.classList.toggle("plain", plain);
  document.title = title ? `${title} · ${say("title")}` : say("title");
  if (!quiet) main.querySelector("h1")?.focus({ preventScroll: true });
  if (!quiet) scrollTo(0, 0);
}

/** Said at once and in sight: what did not work. What was typed stays. */
function stop(text) {
  main.querySelector(".failed")?.remove();
  const box = document.createElement("div");
  box.className = "say stop failed";
  box.setAttribute("role", "alert");
  box.append(document.createElement("div"));
  box.firstChild.textContent = text;
  (main.querySelector("form") ?? main.querySelector(".where")).prepend(box);
  box.scrollIntoView({ block: "nearest" });
}

// Numbers, days and times as this person reads them.
const unit = () => (state.pack.person.units === "us" ? "gal" : "L");
const volume = (ml) => `${round.amount(ml, state.pack.person.units, language)}\u00a0${unit()}`;
const weight = (g) => `${round.weight(g, state.pack.person.units)}\u00a0${state.pack.person.units === "us" ? "lb" : "kg"}`;
const dated = (ms, how) => new Intl.DateTimeFormat(language, { timeZone: state.pack?.zone, ...how }).format(ms);
const clockTime = (ms) => dated(ms, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
function dayWords(ms) {
  const day = (moment) => round.dayOf(moment, state.pack.zone);
  if (day(ms) === day(Date.now())) return say("today");
  if (day(ms) === day(Date.now() - 86_400_000)) return say("yesterday");
  return dated(ms, { day: "numeric", month: "long" });
}
function far(metres) {
  if (state.pack.person.units === "us") {
    const feet = metres / 0.3048;
    return feet < 1000 ? `${Math.round(feet / 10) * 10}\u00a0ft` : `${(feet / 5280).toFixed(1)}\u00a0mi`;
  }
  return metres < 1000 ? `${Math.round(metres / 5) * 5}\u00a0m` : `${(metres / 1000).toFixed(1)}\u00a0km`;
}

const clock = () => ({ now_ms: Date.now(), mono_ms: performance.now(), session, contact: state.contact });
const make = (kind, body) =>
  outbox.newEntry({ kind, body, person: state.who, id: crypto.randomUUID(), clock: clock() });
const stops = () => round.stops(state.pack, state.entries, Date.now());
const placeOf = (stop) => stop.address || stop.code;
const carried = () => round.carriedG(state.pack, state.entries, Date.now(), state.emptied_ms);

/** Write entries to disk. Only then is anything called saved; where the disk refuses, it is said and nothing is kept. */
async function write(entries) {
  try {
    await disk.add(entries);
  } catch (why) {
    stop(say(why?.name === "QuotaExceededError" ? "not_kept" : "not_kept_why"));
    return false;
  }
  navigator.vibrate?.(60);
  await changed();
  send();
  askForSync();
  return true;
}

/** The entries on disk have changed: read them anew, here and in other tabs. */
async function changed() {
  state.entries = await disk.all();
  radio?.postMessage("changed");
  drawStrip();
}

/** Said at the next tree, with the way back. */
function saved(text, entry = null) {
  state.saved = { text, entry };
  document.getElementById("told").textContent = text;
}

/** On to the next tree. */
function goOn(code) {
  const next = round.nextStop(round.onRound(stops()), code, state.later);
  go(next ? next.code : "all");
}

function go(hash) {
  if (location.hash === `#${hash}`) draw();
  else location.hash = hash;
}

function outcomeWords(row) {
  return row.outcome === "sap" ? volume(row.ml) : say(`outcome_${row.outcome}`);
}

// Drawing

let screens = null;
const lazy = () =>
  (screens ??= import("./screens.js").then((found) => {
    found.meet({
      ...{ carried, changed, changeGroup, clockTime, dayWords, draw, emptied, fetchPack, go, goOn, language, main, make },
      ...{ placeOf, put, saved, say, screen, send, show, state, stop, stops, takeBack, urls, volume, weight, write },
    });
    return found;
  }));

async function draw({ quiet = false } = {}) {
  drawStrip();
  state.typing = false;
  const [first, second = "", third = ""] = decodeURIComponent(location.hash.slice(1)).split("/");
  const tree = state.pack && (first ? stops().find((stop) => stop.code === first) : upcoming());
  if (!state.pack && first !== "entries" && first !== "entry") return (await lazy()).nothing();
  if (state.news.length > 0 && (!first || (tree && !second))) return (await lazy()).news();
  if (tree && !second) return drawTree(tree, quiet);
  if (!first) return (await lazy()).all({ quiet });
  const drawing = await lazy();
  if (tree && drawing.atTree[second]) return drawing.atTree[second](tree, third);
  if (drawing.places[first]) return drawing.places[first]({ id: second, quiet });
  return (location.hash = "all");
}

const upcoming = () => round.nextStop(round.onRound(stops()), "", state.later);

function drawTree(stop, quiet) {
  const { root, f } = screen("t-tree");
  const every = round.onRound(stops());
  const at = every.findIndex((one) => one.code === stop.code);
  f.notches.append(...every.slice(Math.max(0, at - 20), Math.max(30, at + 10)).map((one) => notch(one, stop.code)));
  f.notches.hidden = at < 0;
  f.count.textContent = at < 0 ? "" : say("tree_of", { n: at + 1, all: every.length });
  f.address.textContent = placeOf(stop);
  f.place.textContent = [stop.side && sideWords(stop.side), stop.nth && say("nth", { n: stop.nth })].filter(Boolean).join(", ");
  f.code.textContent = stop.code;
  f.about.textContent = [
    stop.hint,
    stop.last ? say("last", { day: dayWords(stop.last.at_ms), amount: volume(stop.last.ml) }) : say("no_last"),
    stop.taps.length ? "" : say("no_spout"),
  ].filter(Boolean).join(" ");
  put(f.settle, stop.taps.filter((tap) => tap.settle).map(settleWords).join(" "));
  drawSaved(f, stop.code);
  drawActs(f, stop);
  drawWay(f.way, every, at);
  f.heavy_words.textContent = heavyWords(stop);
  f.heavy.hidden = f.emptied.hidden = !f.heavy_words.textContent;
  root.querySelector(".low").addEventListener("click", (event) => pressedAt(stop, event));
  show(root, placeOf(stop), { quiet });
}

const sideWords = (side) => (side.includes(" ") ? side : say("side", { side }));

function settleWords(tap) {
  const why = tap.settle.why.join(" ");
  return tap.settle.by ? say("to_settle_other", { who: tap.settle.by, why }) : say("to_settle_own", { why });
}

function notch(stop, here) {
  const mark = document.createElement("i");
  if (stop.code === here) mark.className = "next";
  else if (stop.visited) mark.className = stop.outcome === "sap" ? "sap" : "none";
  return mark;
}

function drawSaved(f, code) {
  const { saved: last } = state;
  if (!last) return;
  last.at ??= code;
  if (last.at !== code) return void (state.saved = null);
  f.saved.hidden = false;
  f.saved_words.textContent = last.text;
  const undo = f.saved.querySelector("button");
  undo.hidden = !last.entry;
  undo.addEventListener("click", () => takeBack(last.entry.id));
}

function drawActs(f, stop) {
  f.log.href = f.log_too.href = `#${stop.code}/sap`;
  f.pulled.href = `#${stop.code}/pull`;
  f.pull.hidden = f.pulled.hidden = f.log_too.hidden = !stop.pull;
  f.log.hidden = stop.pull;
  if (stop.pull) put(f.why, (stop.why ?? []).join(" "));
  if (stop.pull) f.about.hidden = f.way.hidden = true;
}

function heavyWords(stop) {
  const heavy = stop.pull || stop.visited ? null : round.tooHeavy(stop, state.pack, carried());
  if (!heavy) return "";
  return say("too_heavy", {
    now: weight(heavy.total_g - heavy.next_g),
    total: weight(heavy.total_g),
    limit: weight(heavy.limit_g),
  });
}

function drawWay(figure, every, at) {
  const next = at < 0 ? null : round.nextStop(every, every[at].code, state.later);
  const points = round.way(every, every[at]?.code, { high: 76 });
  figure.hidden = figure.hidden || points.length < 2 || !next || Boolean(document.querySelector(".failed"));
  if (figure.hidden) return;
  const gap = far(round.distanceM(every[at].at, next.at));
  const ns = "http://www.w3.org/2000/svg";
  const draw = (name, attributes) => {
    const part = document.createElementNS(ns, name);
    for (const [key, value] of Object.entries(attributes)) part.setAttribute(key, value);
    return part;
  };
  const svg = draw("svg", { viewBox: "0 0 328 76", role: "img", "aria-label": say("way_label", { address: placeOf(next), far: gap }) });
  svg.append(draw("path", { class: "walk", d: points.map((p, n) => `${n ? "L" : "M"}${p.x} ${p.y}`).join("") }));
  for (const p of points)
    svg.append(
      p.here
        ? draw("path", { class: "pail", d: `M${p.x - 8} ${p.y - 7}h16l-3 15h-10z` })
        : draw("circle", { class: p.visited ? "tree been" : "tree", cx: p.x, cy: p.y, r: 5 }),
    );
  const words = document.createElement("figcaption");
  words.textContent = say("next_tree", { far: gap, address: placeOf(next) });
  figure.replaceChildren(svg, words);
}

async function pressedAt(stop, event) {
  const button = event.target.closest("button");
  if (!button || button.disabled) return;
  const { quick, do: act } = button.dataset;
  if (act === "later") {
    state.later = [...state.later.filter((code) => code !== stop.code), stop.code];
    goOn(stop.code);
  } else if (act === "emptied") await emptied();
  else if (quick) {
    button.disabled = true;
    const entry = make("visit", { tree: stop.code, outcome: quick });
    if (await write([entry])) {
      saved(say("saved_sap", { what: say(`outcome_${quick}`), place: placeOf(stop) }), entry);
      goOn(stop.code);
    } else button.disabled = false;
  }
}

async function emptied() {
  state.emptied_ms = Date.now();
  await disk.setNote("emptied", state.emptied_ms).catch(() => stop(say("not_kept_why")));
  draw();
}

/** Take an entry back: at once where it was never tried, else by a second entry that follows it. */
async function takeBack(id) {
  const entry = state.entries.find((one) => one.id === id);
  if (entry && (await disk.removeUntried(id))) {
    await changed();
    saved(say("taken_back"));
    return go(entry.body.tree);
  }
  const tree = entry?.body.tree ?? state.pack?.entries.find((row) => row.id === id)?.tree;
  if (await write([make("undo", { tree, of: id })])) {
    saved(say("taken_back"));
    go(tree);
  }
}

function drawStrip() {
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
  if (!n.waiting && n.others) tail = say("others_wait", { n: n.others });
  part("mark").textContent = mark;
  part("head").textContent = head;
  part("tail").textContent = tail;
  part("act").textContent = say("see");
  strip.className = `strip ${kind}`;
}

// Sending and fetching

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
    await changed();
  },
  clock,
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

async function contact(server_ms) {
  state.contact = { server_ms, phone_ms: Date.now() };
  await disk.setNote("contact", state.contact);
  const off = Math.round((server_ms - Date.now()) / 60_000);
  put(document.querySelector("footer [data-f=clock]"), Math.abs(off) > 10 ? say("clock_off", { n: Math.abs(off) }) : "");
}

let timer = 0;
let again = false;

/** Send what waits, one tab at a time. Asked meanwhile, it runs once more. */
async function send() {
  clearTimeout(timer);
  if (state.sending === "now") return void (again = true);
  const mine = outbox.counts(state.entries, state.who);
  if (mine.waiting === 0 && mine.others === 0) return;
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
  if (left && result.state !== "signed-out") timer = setTimeout(send, outbox.pause(state.failures));
  redraw();
}

/** The pack anew, if it has changed. What changed is told before the next tree. */
async function fetchPack(group = state.pack?.group?.id ?? "") {
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
  redraw();
  return "new";
}

async function keepPack(pack, tag) {
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
    stop(say("small"));
  }
}

/** Another group's round, if it was taken along or there is signal. */
async function changeGroup(id) {
  const kept = await disk.pack(`${state.who}/${id}`);
  if (kept) {
    Object.assign(state, { pack: kept.pack, tag: kept.tag });
    await disk.setNote("here", kept.key);
    fetchPack(id);
  } else {
    state.tag = "";
    if ((await fetchPack(id)) === "offline") return stop(say("no_pack_why"));
  }
  go("all");
}

let pressed = false;
let late = false;

/** Draw anew what stands there, unless somebody is typing; while a finger is down, when it has gone. */
function redraw() {
  if (pressed) late = true;
  else if (!state.typing) draw({ quiet: true });
}

function released() {
  pressed = false;
  if (!late) return;
  late = false;
  setTimeout(redraw);
}

// Opening

async function open() {
  const embedded = document.getElementById("pack");
  state.entries = await disk.all();
  state.contact = (await disk.note("contact")) ?? null;
  state.who = (await disk.note("who")) ?? "";
  const kept = await disk.pack((await disk.note("here")) ?? "");
  if (kept) {
    Object.assign(state, { pack: kept.pack, tag: kept.tag, who: state.who || kept.pack.person.key });
    state.news = (await disk.note("news")) ?? [];
    state.emptied_ms = (await disk.note("emptied")) ?? 0;
  }
  const silent_days = state.contact ? Math.abs(Date.now() - state.contact.phone_ms) / 86_400_000 : 0;
  if (state.pack && silent_days > state.pack.good_days) {
    state.old = true;
    state.pack = null;
    await disk.forget("");
  }
  if (embedded) {
    const { pack, tag, now_ms } = JSON.parse(embedded.textContent);
    if (state.pack && state.pack.person.key !== pack.person.key) Object.assign(state, { pack: null, news: [], emptied_ms: 0 });
    await keepPack(pack, tag);
    await contact(now_ms);
  }
  await disk.remove(outbox.outdated(state.entries, Date.now()));
  state.entries = await disk.all();
  await draw({ quiet: true });
  document.body.dataset.ready = "yes";
  if (!embedded) fetchPack().then((how) => how === "signed-out" && signedOut());
  send();
  lazy();
  navigator.storage?.persist?.();
}

function signedOut() {
  state.sending = "signed-out";
  drawStrip();
}

let worker = null;

async function register() {
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

function takeOver() {
  if (!worker?.waiting) return;
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  worker.waiting.postMessage("take over");
}

async function askForSync() {
  if (outbox.counts(state.entries, state.who).waiting === 0) return;
  await worker?.sync?.register("send").catch(() => undefined);
}

radio?.addEventListener("message", async () => {
  const before = outbox.counts(state.entries, state.who).waiting;
  state.entries = await disk.all();
  drawStrip();
  if (outbox.counts(state.entries, state.who).waiting < before) fetchPack();
  redraw();
});
addEventListener("hashchange", () => draw());
addEventListener("online", send);
addEventListener("offline", drawStrip);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") {
    send();
    fetchPack();
  } else if (!state.typing) takeOver();
});
addEventListener("pointerdown", () => (pressed = true));
addEventListener("pointerup", () => setTimeout(released));
addEventListener("pointercancel", released);
main.addEventListener("input", () => (state.typing = true));

open().then(register, (why) => {
  const box = document.createElement("p");
  box.className = "say stop";
  box.append(document.createElement("div"));
  box.firstChild.textContent = `${say("not_kept_why")} (${why?.name ?? ""})`;
  main.prepend(box);
});
