// Logging sap, or changing what was logged: two big steps, the pail's own marks, and a question where a number is odd.
import { readMl, showMl, step } from "../steps.js";
import * as disk from "./disk.js";
import * as outbox from "./outbox.js";
import * as round from "./round.js";

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, say, screen, show, state, volume, wrong;
export const meet = (given) => ({ say, screen, show, state, volume, wrong } = page = given);

const number = (text) => {
  const typed = String(text).trim().replace(",", ".");
  return typed === "" ? null : /^\d+(\.\d+)?$/.test(typed) ? Number(typed) : Number.NaN;
};
const sign = () => page.unit();

export function sap(stop, entryId = "") {
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
