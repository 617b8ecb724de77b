// The map page: one view, one filter, one choice; map and list show the same.
import { readPalette, watchPalette } from "../marks.js";
import { CanvasLayer, viewOf } from "./canvas-layer.js";
import { Chosen, Drawing, rowsInRing } from "./choose.js";
import { nearest } from "./geometry.js";
import { drawLetters, drawSquares } from "./grid.js";
import { List } from "./list.js";
import { Pin } from "./pin.js";
import { fit, layGround, makeMap } from "./sheet.js";
import { drawNames } from "./streets-layer.js";
import { Tiles } from "./tiles.js";
import { cellAt, ID, sortOut, TreesPainter, X, Y } from "./trees-layer.js";
import { say } from "./wording.js";

const about = JSON.parse(document.getElementById("map-about").textContent);
const { words, urls } = about;
const at = (id) => document.getElementById(id);
const [which, chosenForm, says, card] = [at("which"), at("chosen"), at("map-says"), at("card")];
const tappedState = Number(Object.keys(about.states).find((state) => about.states[state] === "tapped"));
const SETTLE_MS = 250, REACH_PX = 16, AFTER_DRAWING_MS = 400, PLACING_ZOOM = 18, READ_MS = 5000;

const map = makeMap(at("map"), words.mapLabel);
fit(map, about.box ?? about.whole ?? [-0.01, -0.01, 0.01, 0.01], about.box ? 19 : 17);
const ground = layGround(map, about, () => sheet.again());

// One choice ----------------------------------------------------------------------
const chosen = new Chosen(() => { list.tick(); sheet.again(); tellChosen(); });
const list = new List({
  element: at("list"), heading: at("lh"), key: which, url: urls.page, chosen, opened: openTree, failed: tellFailure,
});

function tellChosen() {
  const n = chosen.size, give = at("give"), group = at("chosen-group");
  at("chosen-count").textContent = n ? say(words.chosen, n) : words.noneChosen;
  for (const act of chosenForm.querySelectorAll("[data-needs-chosen]")) {
    if (n) act.removeAttribute("aria-disabled");
    else act.setAttribute("aria-disabled", "true");
  }
  const name = group && group.value !== "none" ? group.selectedOptions[0]?.textContent : "";
  if (give) give.textContent = !n ? words.giveNone : name ? say(words.giveTo, n, name) : say(words.give, n);
  const toggle = card.querySelector("[data-choose-this]");
  if (toggle) {
    toggle.hidden = false;
    toggle.textContent = chosen.has(opened?.id) ? words.chooseNotThis : words.chooseThis;
  }
}

async function learnTags() {
  const ids = chosen.untagged();
  if (!ids.length) return;
  const response = await fetch(urls.codes, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": chosenForm.elements.csrfmiddlewaretoken.value },
    body: JSON.stringify(ids),
  });
  if (!response.ok || response.redirected) throw Object.assign(new Error("no tags"), { signedOut: response.redirected });
  chosen.tagged(ids, await response.json());
}

function chooseRows(rows) {
  if (!rows || chosen.size + rows.length > about.many) return tell(words.tooMany);
  const more = chosen.add(rows.map((row) => [row[ID], null]));
  tell(say(words.justChosen, more), { forMs: READ_MS });
  learnTags().catch(tellFailure);
}

chosenForm.addEventListener("submit", (event) => {
  if (!chosen.size) {
    event.preventDefault();
    tellChosen();
    return tell(words.chooseFirst);
  }
  if (chosen.untagged().length) {
    event.preventDefault();
    learnTags().then(() => chosenForm.requestSubmit(event.submitter)).catch(tellFailure);
    return undefined;
  }
  for (const old of chosenForm.querySelectorAll("input[data-carried]")) old.remove();
  const listed = new Set([...document.querySelectorAll("#list input[name=codes]:checked")].map((box) => box.value));
  for (const code of chosen.tags()) {
    if (listed.has(code)) continue;
    const carried = Object.assign(document.createElement("input"), { type: "hidden", name: "codes", value: code });
    carried.dataset.carried = "";
    chosenForm.append(carried);
  }
  chosenForm.elements.back.value = location.pathname + location.search;
  return undefined;
});
at("chosen-group")?.addEventListener("change", tellChosen);

document.addEventListener("click", (event) => {
  const press = event.target.closest("[data-choose-all], [data-choose-none], [data-choose-this], [data-hit]");
  if (!press || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  if ("chooseAll" in press.dataset) chooseRows(shown.rows);
  if ("chooseNone" in press.dataset) chosen.clear();
  if ("chooseThis" in press.dataset && opened) {
    if (chosen.has(opened.id)) chosen.drop(opened.id);
    else chosen.add([[opened.id, opened.code]]);
  }
  if ("hit" in press.dataset) goTo(press.dataset.hit);
});

// One view ------------------------------------------------------------------------
let shown = { rows: [], total: 0 };
const narrow = matchMedia("(max-width: 62rem)");     // there the card lies below the list
let settle = 0, quiet = 0;
const tiles = new Tiles({ url: urls.trees, filter: filterOf(), arrived: () => sheet.again(), failed: tellFailure });
const underActs = at("map-acts");

/** How much of the sheet lies under the acts; below it on a phone, where they stand under the map. */
function footOf(view) {
  if (underActs.hidden || getComputedStyle(underActs).position !== "absolute") return 0;
  return Math.max(0, view.height - underActs.offsetTop);
}

const painter = new TreesPainter({ states: about.states, words });
painter.recolour(readPalette());

const pin = new Pin((place, way) => {
  const [lat, lon] = [place.lat, place.lon].map((degrees) => degrees.toFixed(6).replace("-", "\u2212"));
  const where = words.pinHere.replace("{lat}", lat).replace("{lon}", lon);
  at("placing-says").textContent = way ? `${words.pinMoved[way]} ${where}` : where;
  const go = at("placing-go");
  go.search = new URLSearchParams({ lon: place.lon, lat: place.lat });
  sheet.again();
});
const drawing = new Drawing(map.getContainer(), {
  again: () => sheet.again(),
  done: (ring) => {
    leaveDrawing();
    drawnAt = performance.now();
    chooseRows(shown.rows && rowsInRing(shown.rows, ring, viewOf(map)));
  },
});
let drawnAt = -AFTER_DRAWING_MS;
let opened = null;

const sheet = new CanvasLayer((g, view) => {
  shown = sortOut(tiles.inSight(), view, { many: about.many, tappedState });
  drawSquares(g, view, painter.palette);
  painter.paint(g, view, shown, { chosen, open: opened, foot: footOf(view), names: () => drawNames(g, view, ground) });
  pin.paint(g, view, painter.palette);
  drawing.paint(g, painter.palette);
  drawLetters(g, view, painter.palette);
});
sheet.addTo(map);
watchPalette((palette) => { painter.recolour(palette); sheet.again(); });

function filterOf() {
  const filter = new URLSearchParams(new FormData(which));
  for (const side of ["west", "south", "east", "north"]) filter.delete(side);
  return filter;
}

function queryOf() {
  const query = filterOf(), { box } = viewOf(map);
  for (const side of ["west", "south", "east", "north"]) query.set(side, box[side].toFixed(6));
  return query;
}

function look() {
  const { box, zoom } = viewOf(map);
  tiles.want(box, zoom);
  clearTimeout(settle);
  settle = setTimeout(() => {
    const query = queryOf();
    list.show(query);
    if (opened?.code) query.set("open", opened.code);
    history.replaceState(null, "", `${urls.page}?${query}`);
  }, SETTLE_MS);
}

function moving() {
  const { box, zoom } = viewOf(map);
  tiles.want(box, zoom);
}

map.on("move", moving);
map.on("moveend resize", look);
which.addEventListener("change", () => { tiles.filterBy(filterOf()); look(); });
which.addEventListener("submit", (event) => { event.preventDefault(); look(); });
addEventListener("online", () => { tell(""); tiles.forget(); look(); });

// One tree ------------------------------------------------------------------------
async function openTree({ code, id }, { focus = true } = {}) {
  try {
    const response = await fetch(`${urls.card}${code ?? id}/`, { headers: { Accept: "text/html" } });
    if (!response.ok || response.redirected) throw Object.assign(new Error("no card"), { signedOut: response.redirected });
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    card.replaceChildren(...page.body.childNodes);
    takeCard();
    if (focus) {
      card.focus({ preventScroll: true });
      card.scrollIntoView({ block: "nearest" });
    }
  } catch (why) {
    tellFailure(why);
  }
}

function takeCard() {
  const body = card.querySelector(".card");
  if (!body) return;
  const [lon, lat] = body.dataset.place.split(" ").map(Number);
  opened = { code: body.dataset.code, id: Number(body.dataset.id), lon, lat };
  list.mark(opened.code);
  tellChosen();
  sheet.again();
}

map.on("click", (event) => {
  if (drawing.kind || performance.now() - drawnAt < AFTER_DRAWING_MS) return;
  if (pin.isSet) return pin.set(event.latlng.lng, event.latlng.lat);
  const view = viewOf(map), { x, y } = event.containerPoint;
  if (shown.cells) {
    const middle = cellAt(shown, view, x, y);
    if (middle) map.setView([middle[1], middle[0]], map.getZoom() + 2, { animate: false });
    return undefined;
  }
  const place = (row) => [row[X] * view.world - view.left, row[Y] * view.world - view.top];
  const row = nearest(shown.rows, x, y, REACH_PX, place);
  if (!row) return undefined;
  const { ctrlKey, metaKey, shiftKey } = event.originalEvent;
  if (ctrlKey || metaKey || shiftKey) {
    if (chosen.has(row[ID])) chosen.drop(row[ID]);
    else chooseRows([row]);
    return undefined;
  }
  return openTree({ id: row[ID] }, { focus: narrow.matches });
});

// Acts of the map -----------------------------------------------------------------
const acts = {
  closer: () => map.setZoom(map.getZoom() + 1),
  further: () => map.setZoom(map.getZoom() - 1),
  whole: () => about.whole && fit(map, about.whole),
  lasso: () => draw("lasso"),
  box: () => draw("box"),
  place: () => {
    const middle = map.getCenter();
    if (map.getZoom() < PLACING_ZOOM) map.setView(middle, PLACING_ZOOM, { animate: false });
    placing(true);
    pin.set(middle.lng, middle.lat);
  },
  leave: () => { placing(false); pin.unset(); sheet.again(); },
};

function draw(kind) {
  if (drawing.kind === kind) return leaveDrawing();
  leaveDrawing();
  if (shown.cells) return tell(words.tooMany);
  map.dragging.disable();
  drawing.start(kind);
  document.querySelector(`[data-map="${kind}"]`).textContent = words.stopDrawing;
  return tell(words[kind]);
}

function leaveDrawing() {
  map.dragging.enable();
  drawing.start(null);
  document.querySelector('[data-map="lasso"]').textContent = words.drawRound;
  document.querySelector('[data-map="box"]').textContent = words.drawBox;
  tell("");
}

function placing(on) {
  leaveDrawing();
  at("placing").hidden = !on;
  at("map-acts").hidden = on;
  chosenForm.querySelector("details").open = false;
  (on ? document.querySelector('[data-nudge="north"]') : chosenForm.querySelector("summary")).focus();
}

document.addEventListener("click", (event) => {
  const press = event.target.closest("[data-map], [data-nudge]");
  if (press?.dataset.map) acts[press.dataset.map]();
  if (press?.dataset.nudge) pin.nudge(press.dataset.nudge);
});
addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  if (drawing.kind) leaveDrawing();
  else if (pin.isSet) acts.leave();
});

// Finding -------------------------------------------------------------------------
at("find").addEventListener("submit", async (event) => {
  event.preventDefault();
  const asked = new FormData(event.target).get("q").trim();
  if (!asked) return at("hits").replaceChildren();
  try {
    const response = await fetch(`${urls.find}?${new URLSearchParams({ q: asked })}`);
    if (!response.ok || response.redirected) throw Object.assign(new Error("no places"), { signedOut: response.redirected });
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    at("hits").replaceChildren(...page.body.childNodes);
  } catch (why) {
    return tellFailure(why);
  }
  const hits = at("hits").querySelectorAll("[data-hit]");
  if (hits.length === 1) {
    goTo(hits[0].dataset.hit);
    at("hits").replaceChildren();
  }
  return undefined;
});

function goTo(hit) {
  const place = new URLSearchParams(hit);
  fit(map, ["west", "south", "east", "north"].map((side) => Number(place.get(side))), 19);
  if (place.get("open")) openTree({ code: place.get("open") });
}

// What the page says --------------------------------------------------------------
function tell(sentence, { forMs = 0 } = {}) {
  clearTimeout(quiet);
  says.textContent = sentence;
  if (forMs) quiet = setTimeout(() => { says.textContent = ""; }, forMs);
}

function tellFailure(why) {
  tell(why.signedOut ? words.signIn : words.noSignal);
}

for (const waiting of document.querySelectorAll("[data-without-script]")) waiting.hidden = true;
for (const act of document.querySelectorAll("#map-acts, [data-map=place]")) act.hidden = false;
list.takeTicks();
takeCard();
tellChosen();
look();
