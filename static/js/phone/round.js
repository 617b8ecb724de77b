// The round's own thinking: what is visited, what comes next, what is carried, what looks odd, what changed. No page.

export const COULD_NOT = ["no_access", "unsafe"];
const EARTH_M = 6_371_008.8; // mean radius of WGS 84
const GAL_ML = 3785.411784; // a US gallon, exactly
const rad = (degrees) => (degrees * Math.PI) / 180;

/** Straight distance over the ground between two [longitude, latitude]. */
export function distanceM([x1, y1], [x2, y2]) {
  const a =
    Math.sin(rad(y2 - y1) / 2) ** 2 + Math.cos(rad(y1)) * Math.cos(rad(y2)) * Math.sin(rad(x2 - x1) / 2) ** 2;
  return 2 * EARTH_M * Math.asin(Math.sqrt(a));
}

/** The local day of a moment, as 2026-03-14. */
export function dayOf(ms, zone) {
  return new Intl.DateTimeFormat("en-CA", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit" }).format(ms);
}

/** One's own entries of the day, newest first: what the server had told, and what this phone has written since. */
export function todays(pack, entries, now_ms) {
  const day = dayOf(now_ms, pack.zone);
  const mine = entries.filter((entry) => entry.person === pack.person.key);
  const told = new Map(pack.entries.map((row) => [row.id, { ...row, box: null }]));
  const places = new Map(pack.trees.map((tree) => [tree.code, tree.address]));
  for (const entry of [...mine].sort((one, other) => one.n - other.n)) {
    const { body, kind } = entry;
    if (kind === "undo" || kind === "change") {
      const row = told.get(body.of);
      if (!row || entry.state === "refused") continue;
      if (kind === "undo") told.set(body.of, { ...row, state: "void", later: entry.state });
      else told.set(body.of, { ...row, ml: body.volume_ml ?? 0, net_ml: netMl(body), look: body.look, later: entry.state });
      continue;
    }
    if (entry.state !== "waiting" && entry.state !== "refused" && dayOf(entry.happened_ms, pack.zone) !== day) continue;
    told.set(entry.id, {
      ...told.get(entry.id),
      id: entry.id,
      tree: body.tree,
      address: places.get(body.tree) ?? "",
      outcome: kind === "visit" ? body.outcome : kind,
      ml: body.volume_ml ?? 0,
      net_ml: netMl(body),
      look: body.look ?? "",
      at_ms: entry.happened_ms,
      state: entry.state,
      why: entry.reasons,
      box: entry,
    });
  }
  return [...told.values()].sort((one, other) => other.at_ms - one.at_ms);
}

export function netMl(body) {
  return (body.volume_ml ?? 0) + (body.rain_ml ?? 0) - (body.discarded_ml ?? 0);
}

/** The trees of the round with what has been done at each today. */
export function stops(pack, entries, now_ms) {
  const day = dayOf(now_ms, pack.zone);
  const rows = todays(pack, entries, now_ms).filter(
    // What is from another day and came in today is listed, but its tree has not been visited today.
    (row) => row.state !== "void" && row.state !== "refused" && dayOf(row.at_ms, pack.zone) === day,
  );
  const gone = new Set(
    entries.filter((entry) => entry.kind === "pull" && entry.state !== "refused").map((entry) => entry.body.tap),
  );
  const fresh = pack.day === day; // a pack of yesterday knows nothing of today
  return pack.trees
    .map((tree) => {
      const own = rows.find((row) => row.tree === tree.code && ["tap", "pull"].includes(row.outcome) === false);
      const holes = entries.filter(
        (entry) => entry.kind === "tap" && entry.body.tree === tree.code && entry.state !== "refused" && !told(tree, entry),
      );
      const taps = [
        ...tree.taps,
        ...holes.map((entry) => ({ id: entry.id, at_ms: entry.happened_ms, ml: entry.body.holds_ml, fresh: true })),
      ].filter((tap) => !gone.has(tap.id));
      const taken = fresh && tree.today && !undone(tree, pack, entries) ? tree.today : null;
      const outcome = own && (!taken || own.at_ms >= taken.at_ms) ? own.outcome : (taken?.outcome ?? "");
      const pulled = tree.taps.length > 0 && taps.length === 0;
      const pull = tree.pull && !pulled;
      const visited = pull ? COULD_NOT.includes(outcome) : pulled || Boolean(outcome);
      return { ...tree, taps, pull, pulled, outcome, visited, ready: tree.taps.length === 0 && taps.length === 0 };
    });
}

function told(tree, entry) {
  return tree.taps.some((tap) => tap.id === entry.id);
}

/** Whether today's visit at the tree was one's own and has been taken back here since. */
function undone(tree, pack, entries) {
  if (!tree.today?.mine) return false;
  const row = pack.entries.find((one) => one.tree === tree.code && one.at_ms === tree.today.at_ms);
  return Boolean(row && entries.some((entry) => entry.kind === "undo" && entry.body.of === row.id && entry.state !== "refused"));
}

/** Trees with a spout in come on the round; the others wait for a drill, in a list of their own. */
export const onRound = (all) => all.filter((stop) => !stop.ready && !(stop.pulled && !stop.outcome && !stop.visited));

/** The person's own runs of today. A pack of another day, or an older one, names none. */
export const runsToday = (pack, now_ms) => (pack.day === dayOf(now_ms, pack.zone) ? (pack.runs ?? []) : []);

/** The next tree to go to after this one: first those not put off, in order, round to the beginning. */
export function nextStop(all, after = "", putOff = []) {
  const at = all.findIndex((stop) => stop.code === after);
  const turned = [...all.slice(at + 1), ...all.slice(0, at + 1)].filter((stop) => !stop.visited && stop.code !== after);
  return turned.find((stop) => !putOff.includes(stop.code)) ?? turned[0] ?? all.find((stop) => !stop.visited) ?? null;
}

/** What is in hand since it was last emptied, in grams. */
export function carriedG(pack, entries, now_ms, emptied_ms = 0) {
  const since = Math.max(emptied_ms ?? 0, pack.emptied_ms ?? 0);
  const day = dayOf(now_ms, pack.zone);
  const rows = todays(pack, entries, now_ms).filter(
    (row) => row.state !== "void" && row.state !== "refused" && row.at_ms > since && dayOf(row.at_ms, pack.zone) === day,
  );
  return Math.max(0, Math.round((rows.reduce((sum, row) => sum + (row.net_ml ?? 0), 0) * pack.rules.sap_g_l) / 1000));
}

/** What the next pail probably holds: its last, else what this round's trees gave last. */
export function expectedMl(stop, pack) {
  if (stop.last) return stop.last.ml;
  const known = pack.trees.filter((tree) => tree.last).map((tree) => tree.last.ml);
  return known.length ? known.reduce((sum, ml) => sum + ml, 0) / known.length : 0;
}

/** Whether the next pail would make it more than the person carries: {next_g, total_g, limit_g} or null. */
export function tooHeavy(stop, pack, carried_g) {
  const next_g = Math.round((expectedMl(stop, pack) * pack.rules.sap_g_l) / 1000);
  const limit_g = pack.person.carry_limit_g;
  return carried_g > 0 && next_g > 0 && carried_g + next_g > limit_g ? { next_g, total_g: carried_g + next_g, limit_g } : null;
}

/** The pail's own marks: its quarters. */
export function marks(pail_ml) {
  return [1, 2, 3, 4].map((quarter) => ({ quarter, ml: Math.round((pail_ml * quarter) / 4) }));
}

/** Questions about numbers that look like a slip, the same the server would ask: [{code, ...}]. */
export function doubts(body, stop, pack) {
  const { rules, person, season } = pack;
  const found = [];
  const pail_ml = pailMl(stop);
  if ((body.volume_ml ?? 0) > pail_ml * rules.fullest) {
    const meant_ml = meantMl(body.volume_ml, pail_ml, rules.fullest, person.units);
    found.push({ code: "pails", pail_ml, times: Math.round((body.volume_ml / pail_ml) * 10) / 10, meant_ml });
  }
  if (body.sugar_brix != null && (body.sugar_brix < rules.least_brix || body.sugar_brix > rules.most_brix))
    found.push({ code: "brix", low: rules.least_brix, high: rules.most_brix });
  if (season && body.day && (body.day < season.from || body.day > season.to)) found.push({ code: "day", day: body.day });
  return found;
}

export function pailMl(stop) {
  return stop.taps.reduce((sum, tap) => sum + tap.ml, 0) || 8000;
}

/** What was probably meant: a whole number lacks its point, one with a point has the other unit. Null when neither fits. */
export function meantMl(volume_ml, pail_ml, fullest, units) {
  const tenth = Math.round(volume_ml / 10);
  const gallons = volume_ml / GAL_ML;
  const litres = Math.round(gallons * 1000);
  const whole = Math.round(Math.round(gallons) * GAL_ML) === volume_ml;
  const guesses = units !== "us" ? [tenth] : whole ? [tenth, litres] : [litres, tenth];
  return guesses.find((guess) => guess <= pail_ml * fullest) ?? null;
}

/** What is new since the last pack, most urgent first: to be read before the next tree. */
export function changes(before, after) {
  if (!before || !after || before.person.key !== after.person.key || before.group?.id !== after.group?.id) return [];
  const was = new Map(before.trees.map((tree) => [tree.code, tree]));
  const is = new Map(after.trees.map((tree) => [tree.code, tree]));
  const found = { pull: [], gone: [], fresh: [], hint: [], boil: [], ended: [] };
  for (const [code, tree] of is) {
    const old = was.get(code);
    const place = { code, address: tree.address };
    if (tree.pull && !old?.pull) found.pull.push({ what: "pull", ...place, why: tree.why ?? [] });
    else if (!old) found.fresh.push({ what: tree.taps.length ? "fresh" : "to_tap", ...place });
    else if (tree.hint !== old.hint && tree.hint) found.hint.push({ what: "hint", ...place, hint: tree.hint });
  }
  for (const [code, tree] of was) {
    if (is.has(code)) continue;
    // A tree whose spouts this phone has pulled leaves the round by itself; that is no news.
    if (tree.taps.length && !tree.pull) found.gone.push({ what: "gone", code, address: tree.address });
  }
  const days = new Map(before.boil_days.map((one) => [one.id, one]));
  for (const one of after.boil_days) {
    const old = days.get(one.id);
    if (!old) found.boil.push({ what: "boil_new", ...one });
    else if (one.off && !old.off) found.boil.push({ what: "boil_off", ...one });
    else if (one.day !== old.day || one.site !== old.site || one.starts_ms !== old.starts_ms)
      found.boil.push({ what: "boil_moved", ...one, was: old.day });
  }
  for (const old of before.boil_days)
    if (!after.boil_days.some((one) => one.id === old.id) && old.day >= after.day && !old.off)
      found.boil.push({ what: "boil_off", ...old });
  if (after.ended && !before.ended) found.ended.push({ what: "ended" });
  return [...found.ended, ...found.pull, ...found.gone, ...found.boil, ...found.fresh, ...found.hint];
}

/** The way to draw: from the tree visited last today, to this one, and on to the next few; without what is done. */
export function wayTo(all, here, rows, putOff = [], onward = 3) {
  const stop = all.find((one) => one.code === here);
  if (!stop) return { from: null, shown: [] };
  const seen = rows.find((row) => row.tree !== here && row.state !== "void" && all.some((one) => one.code === row.tree));
  const from = all.find((one) => one.code === seen?.tree) ?? null;
  const shown = [...(from ? [from] : []), stop];
  for (let next = stop; shown.length < onward + 1 + (from ? 1 : 0); ) {
    const left = all.filter((one) => one.code === next.code || !shown.includes(one));
    next = nextStop(left, next.code, putOff);
    if (!next || shown.includes(next)) break;
    shown.push(next);
  }
  return { from, shown };
}

const LEAST_SPAN_M = 60; // two trees side by side are not blown up to fill the picture

/** That way in a box of `wide` by `high` pixels, north up, both ways to one measure.
 *
 * streets: lines of [longitude, latitude, then steps], all in 100,000ths of a degree, as the pack has them.
 * {points: [{x, y, code, ...}], streets: [path], px_m}
 */
export function way(shown, { streets = [], wide = 328, high = 96, edge = 14 } = {}) {
  if (shown.length === 0) return { points: [], streets: [], px_m: 0 };
  const degree_m = rad(1) * EARTH_M;
  const narrow = Math.cos(rad(shown[0].at[1]));
  const flat = ([longitude, latitude]) => [longitude * narrow * degree_m, latitude * degree_m];
  const metres = shown.map((stop) => flat(stop.at));
  const low = [0, 1].map((axis) => Math.min(...metres.map((point) => point[axis])));
  const span = [0, 1].map((axis) => Math.max(...metres.map((point) => point[axis])) - low[axis]);
  const px_m = Math.min((wide - 2 * edge) / Math.max(span[0], LEAST_SPAN_M), (high - 2 * edge) / Math.max(span[1], LEAST_SPAN_M / 4));
  const tenth = (value) => Math.round(value * 10) / 10;
  const place = ([x, y]) => ({
    x: tenth(wide / 2 + (x - low[0] - span[0] / 2) * px_m),
    y: tenth(high / 2 - (y - low[1] - span[1] / 2) * px_m),
  });
  const near = ({ x, y }) => x > -wide && x < 2 * wide && y > -high && y < 2 * high;
  return {
    px_m,
    points: shown.map((stop, n) => ({ code: stop.code, visited: stop.visited, ...place(metres[n]) })),
    streets: streets
      .map((line) => {
        let at = [0, 0];
        const points = [];
        for (let n = 0; n < line.length; n += 2) {
          at = [at[0] + line[n], at[1] + line[n + 1]];
          points.push(place(flat([at[0] / 1e5, at[1] / 1e5])));
        }
        return points;
      })
      .filter((points) => points.some(near))
      .map((points) => points.map(({ x, y }, n) => `${n ? "L" : "M"}${x} ${y}`).join("")),
  };
}

/** Which of eight ways it is from one place to another: 0 north, 2 east, to 7 north-west. */
export function heading([x1, y1], [x2, y2]) {
  const turn = Math.atan2((x2 - x1) * Math.cos(rad(y1)), y2 - y1) / (Math.PI / 4);
  return (Math.round(turn) + 8) % 8;
}

/** A round length for the scale, as long as possible up to `most_m`: 10, 20, 50, 100, ... of the unit. */
export function scaleOf(most_m, unit_m) {
  let best = 10;
  for (const step of [10, 20, 50, 100, 200, 500, 1000, 2000, 5000]) if (step * unit_m <= most_m) best = step;
  return best;
}

/** The tree that a typed short code means: the whole tag, or its last digits where only one tree has them. */
export function findTree(all, typed) {
  const text = String(typed).trim().toUpperCase();
  const tail = text.split("/").filter(Boolean).pop() ?? "";
  const exact = all.find((stop) => stop.code === tail);
  if (exact || !tail) return exact ?? null;
  const digits = tail.replace(/^\D+/, "").replace(/^0+/, "");
  const like = digits ? all.filter((stop) => stop.code.replace(/^\D+/, "").replace(/^0+/, "") === digits) : [];
  return like.length === 1 ? like[0] : null;
}

/** "6.5" for 6500 mL in litres, with the reader's own point. */
export function amount(ml, units, language) {
  const value = units === "us" ? ml / GAL_ML : ml / 1000;
  return new Intl.NumberFormat(language, { maximumFractionDigits: 2 }).format(value);
}

/** Kilograms or pounds, to a whole one. 1 lb is 453.59237 g, exactly. */
export function weight(g, units) {
  return String(Math.round(units === "us" ? g / 453.59237 : g / 1000));
}
