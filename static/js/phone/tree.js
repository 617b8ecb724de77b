// The first screen of the round: the tree to go to, what is known of it, and what may be pressed there.
import * as round from "./round.js";

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, say, state;
export const meet = (given) => ({ say, state } = page = given);

export function drawTree(stop, quiet) {
  const { root, f } = page.screen("t-tree");
  const every = round.onRound(page.stops());
  const run = round.runsToday(state.pack, Date.now()).find((one) => one.codes.includes(stop.code));
  const here = run ? every.filter((one) => run.codes.includes(one.code)) : every;
  const at = here.findIndex((one) => one.code === stop.code);
  f.notches.append(...here.slice(Math.max(0, at - 20), Math.max(30, at + 10)).map((one) => notch(one, stop.code)));
  f.notches.hidden = at < 0;
  f.count.textContent = at < 0 ? "" : say(run ? "tree_of_run" : "tree_of", { run: run?.name, n: at + 1, all: here.length });
  f.address.textContent = page.placeOf(stop);
  f.place.textContent = [stop.side && sideWords(stop.side), stop.nth && say("nth", { n: stop.nth })].filter(Boolean).join(", ");
  f.code.textContent = stop.code;
  f.about.textContent = [
    stop.hint,
    stop.last ? say("last", { day: page.dayWords(stop.last.at_ms), amount: page.volume(stop.last.ml) }) : say("no_last"),
    stop.taps.length ? "" : say("no_spout"),
  ].filter(Boolean).join(" ");
  page.put(f.settle, stop.taps.filter((tap) => tap.settle).map(settleWords).join(" "));
  drawSaved(f, stop.code);
  drawActs(f, stop);
  const picture = page.pictureOf(stop);
  f.seen.hidden = stop.pull || !state.pictures.has(picture);
  if (!f.seen.hidden) f.seen.src = picture;
  drawWay(f.way, every, stop, f.seen.hidden ? WIDE : WITH_PHOTO);
  f.heavy_words.textContent = heavyWords(stop);
  f.heavy.hidden = f.emptied.hidden = !f.heavy_words.textContent;
  root.querySelector(".low").addEventListener("click", (event) => pressedAt(stop, event));
  page.show(root, page.placeOf(stop), { quiet });
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
  undo.addEventListener("click", () => page.takeBack(last.entry.id));
  f.photo.hidden = !photoHelps(last.entry);
  if (last.entry) f.photo.href = `#entry/${last.entry.id}`;
}

/** Where a picture tells more than the entry: a pail gone, a place not safe, sap that looks odd. */
function photoHelps(entry) {
  if (entry?.kind !== "visit") return false;
  const { outcome, look } = entry.body;
  return outcome === "sap" ? Boolean(look) && look !== "clear" : ["gone", "unsafe", "no_access"].includes(outcome);
}

function drawActs(f, stop) {
  f.log.href = f.log_too.href = `#${stop.code}/sap`;
  f.pulled.href = `#${stop.code}/pull`;
  f.pull.hidden = f.pulled.hidden = f.log_too.hidden = !stop.pull;
  f.log.hidden = stop.pull;
  if (stop.pull) page.put(f.why, (stop.why ?? []).join(" "));
  if (stop.pull) f.about.hidden = f.way.hidden = true;
}

function heavyWords(stop) {
  const heavy = stop.pull || stop.visited ? null : round.tooHeavy(stop, state.pack, page.carried());
  if (!heavy) return "";
  return say("too_heavy", {
    now: page.weight(heavy.total_g - heavy.next_g),
    total: page.weight(heavy.total_g),
    limit: page.weight(heavy.limit_g),
  });
}

const NS = "http://www.w3.org/2000/svg";
const [WIDE, WITH_PHOTO, HIGH] = [328, 224, 92]; // pixels; the photo stands beside it

function drawn(name, attributes, text = "") {
  const part = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) part.setAttribute(key, value);
  part.textContent = text;
  return part;
}

/** How far it is to this tree from the one visited last, and a plain drawing of it; before the first, how it goes on. */
function drawWay(figure, every, here, wide) {
  const rows = round.todays(state.pack, state.entries, Date.now());
  const { from, shown } = round.wayTo(every, here.code, rows, state.later);
  figure.hidden = figure.hidden || shown.length < 2 || Boolean(document.querySelector(".failed"));
  if (figure.hidden) return;
  const [start, end] = from ? [from, here] : shown;
  const gap = {
    far: page.far(round.distanceM(start.at, end.at)),
    way: say(`way_${round.heading(start.at, end.at)}`),
    address: page.placeOf(from ?? end),
  };
  const words = document.createElement("figcaption");
  words.textContent = say(from ? "way_from" : "way_on", gap);
  figure.replaceChildren(picture(shown, here, wide, words.textContent), words);
}

function picture(shown, here, wide, words) {
  const { points, streets, px_m } = round.way(shown, { streets: state.pack.streets ?? [], wide, high: HIGH });
  const svg = drawn("svg", { viewBox: `0 0 ${wide} ${HIGH}`, role: "img", "aria-label": say("way_label", { words }) });
  const line = (some) => some.map((p, n) => `${n ? "L" : "M"}${p.x} ${p.y}`).join("");
  for (const street of streets) svg.append(drawn("path", { class: "street", d: street }));
  const at = shown.findIndex((stop) => stop.code === here.code); // 1 where one came from a tree, else 0
  svg.append(drawn("path", { class: "on", d: line(points.slice(at)) }));
  if (at > 0) svg.append(drawn("path", { class: "walk", d: line(points.slice(0, 2)) }));
  points.forEach((p, n) => {
    if (p.code !== here.code) svg.append(drawn("circle", { class: n < at ? "tree been" : "tree", cx: p.x, cy: p.y, r: 5 }));
  });
  const { x, y } = points[at];
  svg.append(drawn("path", { class: "pail", d: `M${x - 9} ${y - 9}h18l-3 18h-12z` }));
  svg.append(...scale(px_m));
  return svg;
}

function scale(px_m) {
  const us = state.pack.person.units === "us";
  const unit_m = us ? 0.3048 : 1;
  const length = round.scaleOf(96 / px_m, unit_m);
  const end = 8 + length * unit_m * px_m;
  return [
    drawn("path", { class: "bar", d: `M8 ${HIGH - 12}v6H${end.toFixed(1)}v-6` }),
    drawn("text", { class: "measure", x: end + 6, y: HIGH - 4 }, `${length}\u00a0${us ? "ft" : "m"}`),
  ];
}

async function pressedAt(stop, event) {
  const button = event.target.closest("button");
  if (!button || button.disabled) return;
  const { quick, do: act } = button.dataset;
  if (act === "later") {
    state.later = [...state.later.filter((code) => code !== stop.code), stop.code];
    page.goOn(stop.code);
  } else if (act === "emptied") await page.emptied();
  else if (quick) {
    button.disabled = true;
    const entry = page.make("visit", { tree: stop.code, outcome: quick });
    if (await page.write([entry])) {
      page.saved(say("saved_sap", { what: say(`outcome_${quick}`), place: page.placeOf(stop) }), entry);
      page.goOn(stop.code);
    } else button.disabled = false;
  }
}
