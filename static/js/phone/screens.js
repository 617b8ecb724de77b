// The round's other screens: sap, lists, one entry, news, a hole, a spout, finding a tag. Loaded after the first one.
import { readMl, showMl, step } from "../steps.js";
import * as disk from "./disk.js";
import * as outbox from "./outbox.js";
import * as round from "./round.js";

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, main, put, say, screen, show, state, volume;

export function meet(given) {
  page = given;
  ({ main, put, say, screen, show, state, volume } = given);
}

const units = () => state.pack.person.units;
const sign = () => (units() === "us" ? "gal" : "L");
const mm = (text) => {
  const typed = String(text).trim().replace(",", ".");
  return /^\d+(\.\d+)?$/.test(typed) ? Math.round(Number(typed) * (units() === "us" ? 25.4 : 10)) : null;
};
const number = (text) => {
  const typed = String(text).trim().replace(",", ".");
  return typed === "" ? null : /^\d+(\.\d+)?$/.test(typed) ? Number(typed) : Number.NaN;
};
const wrong = (f, words) => {
  f.wrong_words.textContent = words;
  f.wrong.hidden = !words;
  if (words) f.wrong.scrollIntoView({ block: "nearest" });
  return words;
};

// Sap

function sap(stop, entryId = "") {
  const { root, f } = screen("t-sap");
  const form = root.querySelector("form");
  const old = entryId ? state.entries.find((entry) => entry.id === entryId) ?? toldEntry(entryId) : null;
  let sure = "";
  f.code.textContent = stop.code;
  for (const part of root.querySelectorAll("[data-f=unit]")) part.textContent = sign();
  f.back.href = old ? `#entry/${entryId}` : `#${stop.code}`;
  f.marks.append(...round.marks(round.pailMl(stop)).map(markButton));
  if (old) fillIn(form, old.body);
  const tell = () => {
    state.typing = true;
    sure = "";
    f.odd.hidden = true;
    const ml = readMl(form.volume.value, sign());
    const look = form.querySelector("[name=look]:checked").value;
    f.save.textContent = ml ? say("save_amount", { amount: volume(ml), look: say(`look_${look}`) }) : say("save");
  };
  form.addEventListener("input", tell);
  form.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const { step: way, ml, why, do: act } = button.dataset;
    if (way) form.volume.value = showMl(step(readMl(form.volume.value, sign()) ?? 0, state.pack.rules.step_ml, Number(way)), sign());
    if (ml) form.volume.value = showMl(Number(ml), sign());
    if (way || ml) tell();
    if (act === "meant") {
      form.volume.value = showMl(Number(button.dataset.meant), sign());
      tell();
      keep();
    }
    if (why) {
      sure = why;
      keep();
    }
  });
  async function keep() {
    const body = readSap(form, f, stop, sure);
    if (!body || asked(f, body, stop)) return;
    form.querySelector("#save").disabled = true;
    const done = old ? await changeEntry(entryId, old, body) : await newSap(stop, body);
    if (!done) form.querySelector("#save").disabled = false;
  }
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    keep();
  });
  show(root, say("outcome_sap"));
  tell();
  state.typing = Boolean(old);
}

function toldEntry(id) {
  const row = state.pack.entries.find((one) => one.id === id);
  return row ? { body: { tree: row.tree, volume_ml: row.ml, look: row.look }, state: "sent", tries: 1, told: true } : null;
}

function markButton({ quarter, ml }) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "act";
  button.dataset.ml = ml;
  button.append(Object.assign(document.createElement("b"), { textContent: say(`mark_${quarter}`) }));
  button.append(Object.assign(document.createElement("small"), { textContent: volume(ml) }));
  return button;
}

function fillIn(form, body) {
  const amount = (ml) => (ml ? showMl(ml, sign()) : "");
  form.volume.value = amount(body.volume_ml) || "0";
  form.discarded.value = amount(body.discarded_ml);
  form.rain.value = amount(body.rain_ml);
  form.discard_reason.value = body.discard_reason ?? "";
  form.sugar.value = body.sugar_brix ?? "";
  form.note.value = body.note ?? "";
  const look = form.querySelector(`[name=look][value=${body.look || "clear"}]`);
  if (look) look.checked = true;
  if (body.discarded_ml || body.rain_ml || body.sugar_brix || body.note) form.querySelector("details").open = true;
}

/** The form as an entry's body, or null with a sentence about what is wrong. */
function readSap(form, f, stop, sure) {
  const ml = (name) => (form[name].value.trim() ? Math.round(readMl(form[name].value, sign()) ?? Number.NaN) : 0);
  const body = {
    tree: stop.code,
    outcome: "sap",
    volume_ml: ml("volume"),
    discarded_ml: ml("discarded"),
    rain_ml: ml("rain"),
    discard_reason: form.discard_reason.value,
    sugar_brix: number(form.sugar.value),
    look: form.querySelector("[name=look]:checked").value,
    note: sure || form.note.value.trim(),
    sure: Boolean(sure),
  };
  const numbers = [body.volume_ml, body.discarded_ml, body.rain_ml, body.sugar_brix ?? 0];
  const came = body.volume_ml + body.rain_ml;
  const words = numbers.some(Number.isNaN) || body.sugar_brix > 12 || came > 500_000
    ? say("typed_wrong")
    : came === 0
      ? say("say_how_much")
      : body.discarded_ml > came
        ? say("tipped_more")
        : body.discarded_ml && !body.discard_reason
          ? say("tipped_why")
          : "";
  if (wrong(f, words)) return null;
  if (!body.discarded_ml) body.discard_reason = "";
  return body;
}

/** Ask about numbers that look like a slip; whether something is still to be answered. */
function asked(f, body, stop) {
  const day = round.dayOf(Date.now(), state.pack.zone);
  const found = round.doubts({ ...body, day }, stop, state.pack);
  if (found.length === 0 || body.sure) return false;
  const sentences = found.map((doubt) => {
    if (doubt.code === "brix") return say("odd_brix", { ...doubt, given: body.sugar_brix });
    if (doubt.code === "day") return say("odd_day", doubt);
    const meant = doubt.meant_ml ? say("odd_meant", { meant: volume(doubt.meant_ml) }) : "";
    return `${say("odd_pails", { given: volume(body.volume_ml), pail: volume(doubt.pail_ml), times: doubt.times })} ${meant}`;
  });
  f.odd_words.textContent = sentences.join(" ");
  const { meant_ml } = found.find((doubt) => doubt.meant_ml) ?? {};
  f.meant.hidden = !meant_ml;
  if (meant_ml) {
    f.meant.textContent = say("odd_yes", { meant: volume(meant_ml) });
    f.meant.dataset.meant = meant_ml;
  }
  f.odd.hidden = false;
  f.odd.scrollIntoView({ block: "start" });
  return true;
}

async function newSap(stop, body) {
  const entry = page.make("visit", body);
  if (!(await page.write([entry]))) return false;
  page.saved(say("saved_sap", { what: volume(body.volume_ml), place: page.placeOf(stop) }), entry);
  page.goOn(stop.code);
  return true;
}

async function changeEntry(id, old, body) {
  const now = (await disk.all()).find((entry) => entry.id === id);
  const { put: inPlace, add } = outbox.changed(now ?? { ...old, id }, body, page.make);
  if (add.length) {
    if (!(await page.write(add))) return false;
  } else {
    try {
      await disk.put(inPlace);
    } catch {
      page.stop(say("not_kept"));
      return false;
    }
    await page.changed();
  }
  page.go("entries");
  return true;
}

// Lists

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

export function all({ quiet = false } = {}) {
  const { root, f } = screen("t-all");
  const { pack } = state;
  const stops = page.stops();
  const on = round.onRound(stops);
  const to_tap = stops.filter((stop) => stop.ready);
  const next = round.nextStop(on, "", state.later);
  f.title.textContent = pack.group?.name ?? say("title");
  f.about.textContent = on.length ? say("visited_of", { n: on.filter((stop) => stop.visited).length, all: on.length }) : noTrees();
  const carried_g = page.carried();
  put(f.carrying, carried_g ? say("carrying", { weight: page.weight(carried_g) }) : "");
  f.emptied.hidden = !carried_g;
  f.emptied.addEventListener("click", page.emptied);
  f.next.hidden = !next;
  if (next) {
    f.next.href = `#${next.code}`;
    f.next.textContent = page.placeOf(next);
  }
  f.done.hidden = Boolean(next) || on.length === 0;
  f.done_words.textContent = say("all_done");
  f.done_why.textContent = say("all_done_why");
  f.rows.append(
    ...on.map((stop) =>
      row(stop.code, {
        state: stop.visited ? `✓ ${say("visited")}` : say("to_visit"),
        text: page.placeOf(stop),
        small: stop.pull ? say("to_pull") : "",
        urgent: stop.pull,
        href: `#${stop.code}`,
      }),
    ),
  );
  f.tap_part.hidden = to_tap.length === 0;
  f.tap_rows.append(...to_tap.map((stop) => row(stop.code, { state: say("to_tap"), text: page.placeOf(stop), href: `#${stop.code}/tap` })));
  f.boil_part.hidden = pack.boil_days.length === 0;
  f.boil_rows.append(
    ...pack.boil_days.map((one) => {
      const name = one.off ? "news_boil_off" : "boil_day";
      return Object.assign(document.createElement("li"), { textContent: say(name, boilWords(one)) });
    }),
  );
  f.groups.hidden = pack.groups.length < 2;
  for (const group of pack.groups.filter((one) => one.id !== pack.group?.id)) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "act", textContent: group.name });
    button.addEventListener("click", () => page.changeGroup(group.id));
    f.groups.append(button);
  }
  show(root, f.title.textContent, { plain: true, quiet });
}

function noTrees() {
  const { pack } = state;
  if (pack.ended) return say("ended");
  if (!pack.season) return say("no_season");
  return say(pack.group ? "no_trees" : "no_group");
}

const dayName = (iso) =>
  new Intl.DateTimeFormat(page.language, { timeZone: "UTC", weekday: "long", day: "numeric", month: "long" }).format(
    new Date(`${iso}T12:00:00Z`),
  );
const boilWords = (one) => ({ ...one, day: dayName(one.day), was: one.was ? dayName(one.was) : "" });

export function news() {
  const { root, f } = screen("t-news");
  for (const one of state.news) {
    const box = document.createElement("div");
    box.className = ["pull", "gone", "ended"].includes(one.what) ? "say stop" : "say";
    const text = document.createElement("div");
    const address = one.address || one.code;
    text.textContent = say(`news_${one.what}`, { ...boilWordsOf(one), address, why: (one.why ?? []).join(" "), hint: one.hint });
    box.append(text);
    f.rows.append(box);
  }
  const button = root.querySelector("button");
  // It may come up under a finger that meant another button.
  button.disabled = true;
  setTimeout(() => (button.disabled = false), 500);
  button.addEventListener("click", async () => {
    state.news = [];
    await disk.setNote("news", []);
    page.draw();
  });
  show(root, "");
}

const boilWordsOf = (one) => (one.what.startsWith("boil") ? boilWords(one) : {});

export function nothing() {
  const { root, f } = screen("t-nothing");
  f.head.textContent = state.old ? say("old_pack", { n: 7 }) : say("no_pack");
  f.why.textContent = say(state.old ? "old_pack_why" : "no_pack_why");
  const button = root.querySelector("[data-do=fetch]");
  button.addEventListener("click", async () => {
    button.disabled = true;
    const how = await page.fetchPack();
    button.disabled = false;
    if (["signed-out", "no-member"].includes(how)) {
      f.sign_in.href = page.urls.sign_in;
      f.sign_in.hidden = false;
    }
  });
  show(root, "");
}

// Entries

function rowsOfEntries() {
  const now = Date.now();
  const rows = state.pack ? round.todays(state.pack, state.entries, now) : [];
  const listed = new Set(rows.map((one) => one.id));
  // Refused changes and undos are rows too, or nobody would learn why.
  const others = state.entries.filter((entry) => entry.person === state.who && !listed.has(entry.id));
  const loose = others.filter((entry) => entry.state === "refused" || (!state.pack && entry.state === "waiting"));
  return [
    ...rows,
    ...loose.map((entry) => ({
      id: entry.id,
      tree: entry.body.tree,
      address: "",
      outcome: entry.body.outcome ?? entry.kind,
      ml: entry.body.volume_ml ?? 0,
      at_ms: entry.happened_ms,
      state: entry.state,
      why: entry.reasons,
      box: entry,
    })),
  ];
}

function stateWords(one) {
  if (one.later === "waiting") return say("state_undo");
  if (one.state === "waiting" && one.box?.tries > 0) return say("state_tried");
  return say(`state_${one.state}`);
}

function entries({ quiet = false }) {
  const { root, f } = screen("t-entries");
  const n = outbox.counts(state.entries, state.who);
  f.head.textContent = n.waiting ? say(n.waiting === 1 ? "one_waits" : "many_wait", { n: n.waiting }) : say("nothing_waits");
  put(f.others, n.others ? say("others_wait", { n: n.others }) : "");
  const signIn = state.sending === "signed-out";
  f.sign_in.hidden = !signIn;
  f.send.hidden = signIn || (!n.waiting && !n.others);
  f.sign_in.href = page.urls.sign_in;
  f.send.addEventListener("click", () => page.send());
  const rows = rowsOfEntries();
  f.none.hidden = rows.length > 0;
  f.rows.append(
    ...rows.map((one) =>
      row(one.tree, {
        state: page.clockTime(one.at_ms),
        text: entryWords(one),
        small: stateWords(one),
        urgent: one.state === "refused",
        href: `#entry/${one.id}`,
      }),
    ),
  );
  show(root, "", { plain: true, quiet });
}

const entryWords = (one) => (one.outcome === "sap" && state.pack ? volume(one.ml) : say(`outcome_${one.outcome}`));

function entry({ id, quiet = false }) {
  const one = rowsOfEntries().find((found) => found.id === id);
  if (!one) return page.go("entries");
  const { root, f } = screen("t-entry");
  f.address.textContent = one.address || one.tree;
  f.what.textContent = entryWords(one);
  f.code.textContent = one.tree;
  f.when.textContent = state.pack ? `${page.dayWords(one.at_ms)}, ${page.clockTime(one.at_ms)}` : "";
  f.state.textContent = stateWords(one);
  f.why.textContent = (one.why ?? []).join(" ");
  f.state_box.classList.toggle("stop", one.state === "refused");
  const isVisit = !["tap", "pull", "undo", "change", "removal"].includes(one.outcome);
  const open = one.state !== "void" && one.later === undefined;
  f.change.hidden = !(open && one.outcome === "sap" && state.pack);
  f.change.href = `#${one.tree}/sap/${one.id}`;
  const untried = one.box && one.state === "waiting" && one.box.tries === 0;
  f.take_back.hidden = !(open && one.state !== "refused" && (isVisit || untried));
  f.again.hidden = f.drop.hidden = one.state !== "refused";
  f.take_back.addEventListener("click", () => page.takeBack(id));
  f.again.addEventListener("click", async () => {
    await disk.put([{ ...one.box, state: "waiting", reasons: [] }]);
    await page.changed();
    await page.send();
    page.draw();
  });
  f.drop.addEventListener("click", async () => {
    await disk.remove([id]);
    await page.changed();
    page.go("entries");
  });
  show(root, f.address.textContent, { quiet });
}

// A hole, a spout

function tap(stop) {
  const { root, f } = screen("t-tap");
  const form = root.querySelector("form");
  f.address.textContent = page.placeOf(stop);
  f.code.textContent = stop.code;
  for (const part of root.querySelectorAll("[data-f=length]")) part.textContent = units() === "us" ? "in" : "cm";
  const why = stop.gate?.why ?? [say("no_season")];
  const time = state.contact ? page.clockTime(state.contact.phone_ms) : "";
  f.gate.classList.toggle("open", why.length === 0);
  f.gate_head.textContent = why.length ? say("gate_no", { time }) : say("gate_yes", { time, n: stop.gate.left });
  f.gate_why.append(...why.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  const pails = units() === "us" ? [7571, 11356, 15142, 18927] : [8000, 10000, 12000, 20000];
  f.pails.append(...pails.map((ml, n) => pick("holds", ml, volume(ml), n === 0)));
  f.back.href = "#all";
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const chosen = (name) => form.querySelector(`[name=${name}]:checked`)?.value;
    const [height_mm, depth_mm] = [mm(form.height.value), mm(form.depth.value)];
    const words =
      chosen("aspect") === undefined || chosen("shavings") === undefined
        ? say("choose")
        : !(height_mm >= 100 && height_mm <= 3000)
          ? say("height_wrong")
          : !(depth_mm >= 10 && depth_mm <= 150)
            ? say("depth_wrong")
            : "";
    if (wrong(f, words)) return;
    const hole = page.make("tap", {
      tree: stop.code,
      height_mm,
      depth_mm,
      aspect_deg: Number(chosen("aspect")),
      bit_um: Number(chosen("bit")),
      shavings: chosen("shavings"),
      holds_ml: Number(chosen("holds")),
      note: form.note.value.trim(),
    });
    if (!(await page.write([hole]))) return;
    page.saved(say("kept_hole"), hole);
    page.go(stop.code);
  });
  show(root, f.address.textContent, { plain: true });
}

function pick(name, value, text, checked = false) {
  const label = document.createElement("label");
  label.className = "pick bare";
  label.append(Object.assign(document.createElement("input"), { type: "radio", name, value, checked }), text);
  return label;
}

function pull(stop) {
  const { root, f } = screen("t-pull");
  const form = root.querySelector("form");
  f.address.textContent = page.placeOf(stop);
  f.code.textContent = stop.code;
  f.which.hidden = stop.taps.length < 2;
  f.spouts.append(
    ...stop.taps.map((one, n) => pick("tap", one.id, say("spout_n", { n: n + 1, day: page.dayWords(one.at_ms) }), n === 0)),
  );
  f.back.href = `#${stop.code}`;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const lost = event.submitter?.value === "lost";
    const note = form.note.value.trim();
    if (wrong(f, lost && !note ? form.querySelector("[for=f-lost]").textContent : "")) return;
    const body = { tree: stop.code, tap: form.querySelector("[name=tap]:checked")?.value ?? "", lost, note };
    const out = page.make("pull", body);
    if (!(await page.write([out]))) return;
    page.saved(say("saved_sap", { what: say("outcome_pull"), place: page.placeOf(stop) }), out);
    if (stop.taps.length > 1) page.go(stop.code);
    else page.goOn(stop.code);
  });
  show(root, f.address.textContent);
}

// Finding a tag

function find() {
  const { root, f } = screen("t-find");
  const form = root.querySelector("form");
  const jump = (typed) => {
    const found = round.findTree(page.stops(), typed);
    if (found) return page.go(found.ready ? `${found.code}/tap` : found.code);
    return wrong(f, say("no_tree", { code: String(typed).slice(0, 40) }));
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    jump(form.tag.value);
  });
  if ("BarcodeDetector" in self && navigator.mediaDevices?.getUserMedia) {
    f.scan.hidden = false;
    f.scan.addEventListener("click", () => scan(f.video, jump, () => wrong(f, say("code_read"))));
  }
  show(root, "");
}

/** Read a QR code with the camera, for at most half a minute. */
async function scan(video, found, failed) {
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  } catch {
    return failed();
  }
  const reader = new self.BarcodeDetector({ formats: ["qr_code"] });
  video.srcObject = stream;
  video.hidden = false;
  await video.play();
  const end = Date.now() + 30_000;
  try {
    while (video.isConnected && Date.now() < end) {
      const [code] = await reader.detect(video).catch(() => []);
      if (code) return found(code.rawValue);
      await new Promise((done) => setTimeout(done, 200));
    }
  } finally {
    for (const track of stream.getTracks()) track.stop();
    video.hidden = true;
  }
  return video.isConnected && failed();
}

export const atTree = { sap, tap, pull };
export const places = { all, entries, entry, news, find };
