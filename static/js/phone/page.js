// The round on the phone: opens what is kept, draws the next tree, writes entries to disk, sends them when it can.
import * as disk from "./disk.js";
import * as outbox from "./outbox.js";
import * as round from "./round.js";
import * as sending from "./sending.js";
import * as tree from "./tree.js";

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
  photos: 0, // of this person's, waiting
  pictures: new Set(), // addresses of the trees' photos that are here
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

/** Said in the form: what to look at. Gives the words back, so that nothing wrong is nothing said. */
function wrong(f, words) {
  f.wrong_words.textContent = words;
  f.wrong.hidden = !words;
  if (words) f.wrong.scrollIntoView({ block: "nearest" });
  return words;
}

/** One line of a list. */
function row(code, { state: words, text, small = "", urgent = false, href }) {
  const { root, f } = screen("t-row");
  root.querySelector("a").href = href;
  f.state.textContent = words;
  f.code.textContent = code;
  f.words.textContent = text;
  f.small.textContent = small;
  f.small.classList.toggle("wrong-word", urgent);
  return root;
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
const pictureOf = (stop) => (stop.photo ? `${urls.tree_photo.replace("TAG-0", stop.code)}?${stop.photo}` : "");
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
  sending.send();
  sending.askForSync();
  return true;
}

/** The entries on disk have changed: read them anew, here and in other tabs. */
async function changed() {
  state.entries = await disk.all();
  radio?.postMessage("changed");
  sending.drawStrip();
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

// Drawing

const tools = {
  ...{ carried, changed, clock, clockTime, dayWords, draw, emptied, far, go, goOn, language, main, make, pictureOf, placeOf },
  ...{ put, redraw, row, saved, say, screen, show, state, stop, stops, takeBack, unit, urls, volume, weight, write, wrong },
  ...{ changeGroup: sending.changeGroup, countPhotos: sending.countPhotos, drawStrip: sending.drawStrip, fetchPack: sending.fetchPack, send: sending.send },
};
sending.meet(tools);
tree.meet(tools);

// The other screens come when they are asked for, or as soon as the worker has them.
const shelf = {
  sap: () => import("./sap.js"),
  lists: () => import("./lists.js"),
  entries: () => import("./entries.js"),
  hole: () => import("./hole.js"),
  find: () => import("./find.js"),
};
const met = {};
async function screenOf(name) {
  met[name] ??= shelf[name]();
  try {
    const found = await met[name];
    found.meet(tools);
    return found;
  } catch {
    delete met[name]; // asked for again, it may be there
    return null;
  }
}
const atTree = { sap: "sap", tap: "hole", pull: "hole" };
const places = { all: "lists", news: "lists", entries: "entries", entry: "entries", find: "find" };

async function draw({ quiet = false } = {}) {
  sending.drawStrip();
  state.typing = false;
  const [first, second = "", third = ""] = decodeURIComponent(location.hash.slice(1)).split("/");
  const here = state.pack && (first ? stops().find((one) => one.code === first) : upcoming());
  if (!state.pack && first !== "entries" && first !== "entry") return onScreen("lists", "nothing");
  if (state.news.length > 0 && (!first || (here && !second))) return onScreen("lists", "news");
  if (here && !second) return tree.drawTree(here, quiet);
  if (!first) return onScreen("lists", "all", { quiet });
  if (here && atTree[second]) return onScreen(atTree[second], second, here, third);
  if (places[first]) return onScreen(places[first], first, { id: second, quiet });
  return (location.hash = "all");
}

async function onScreen(name, what, ...about) {
  const found = await screenOf(name);
  return found ? found[what](...about) : stop(say("not_here_yet"));
}

const upcoming = () => round.nextStop(round.onRound(stops()), "", state.later);

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
    if (state.photos) await import("./photos.js").then((photos) => photos.removeOf(id)).then(sending.countPhotos);
    saved(say("taken_back"));
    return go(entry.body.tree);
  }
  const at = entry?.body.tree ?? state.pack?.entries.find((told) => told.id === id)?.tree;
  if (await write([make("undo", { tree: at, of: id })])) {
    saved(say("taken_back"));
    go(at);
  }
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
  state.pictures = await disk.treePhotos().catch(() => new Set());
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
    await sending.keepPack(pack, tag);
    await sending.contact(now_ms);
  }
  await disk.remove(outbox.outdated(state.entries, Date.now()));
  state.entries = await disk.all();
  await draw({ quiet: true });
  document.body.dataset.ready = "yes";
  if (!embedded) sending.fetchPack().then((how) => how === "signed-out" && signedOut());
  sending.send();
  navigator.storage?.persist?.();
}

function signedOut() {
  state.sending = "signed-out";
  sending.drawStrip();
}

radio?.addEventListener("message", async () => {
  const before = outbox.counts(state.entries, state.who).waiting;
  state.entries = await disk.all();
  sending.drawStrip();
  if (outbox.counts(state.entries, state.who).waiting < before) sending.fetchPack();
  redraw();
});
addEventListener("hashchange", () => draw());
addEventListener("online", sending.send);
addEventListener("offline", sending.drawStrip);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") {
    sending.send();
    sending.fetchPack();
  } else if (!state.typing) sending.takeOver();
});
addEventListener("pointerdown", () => (pressed = true));
addEventListener("pointerup", () => setTimeout(released));
addEventListener("pointercancel", released);
main.addEventListener("input", () => (state.typing = true));

/** Where the worker has every file, the screens are read beforehand. */
async function settle() {
  await sending.register();
  await sending.claimed();
  for (const name of Object.keys(shelf)) await screenOf(name);
  await sending.takePictures();
  await sending.countPhotos();
  if (state.photos) sending.send();
}

open().then(settle, (why) => {
  const box = document.createElement("p");
  box.className = "say stop";
  box.append(document.createElement("div"));
  box.firstChild.textContent = `${say("not_kept_why")} (${why?.name ?? ""})`;
  main.prepend(box);
});
