// The round's thinking, without a page.
import assert from "node:assert/strict";
import test from "node:test";

import * as round from "../../static/js/phone/round.js";

const NOW = Date.UTC(2026, 2, 14, 12);
const DAY = 86_400_000;
const tree = (code, more = {}) => ({
  code,
  address: `${Number(code.slice(3))} Larkspur Street`,
  side: "",
  nth: null,
  hint: "",
  at: [-87.35 + Number(code.slice(3)) * 0.001, 47.05],
  pull: false,
  taps: [{ id: `tap-${code}`, at_ms: NOW - 10 * DAY, ml: 8000 }],
  ...more,
});
const pack = (more = {}) => ({
  day: "2026-03-14",
  zone: "UTC",
  person: { key: "bob", name: "Bob", units: "metric", language: "en", carry_limit_g: 20_000 },
  group: { id: 1, name: "North Bank" },
  season: { year: 2026, from: "2026-02-20", to: "2026-04-10", taps: true, logs: true },
  rules: { step_ml: 500, fullest: 1.1, least_brix: 0.8, most_brix: 5, deepest_mm: 51, sap_g_l: 1008 },
  trees: [tree("QH-1"), tree("QH-2"), tree("QH-3")],
  entries: [],
  emptied_ms: null,
  boil_days: [],
  ended: false,
  ...more,
});
let n = 0;
const entry = (code, more = {}) => {
  n += 1;
  const { body = {}, ...rest } = more;
  const said = { tree: code, outcome: "sap", volume_ml: 6000, ...body };
  return { id: `e${n}`, n, person: "bob", kind: "visit", state: "waiting", tries: 0, reasons: [], happened_ms: NOW - 60_000, body: said, ...rest };
};
const visited = (p, entries) => round.stops(p, entries, NOW).map((stop) => stop.visited);

test("a tree is visited by an entry of today, on the phone or in the pack, not by one of yesterday", () => {
  assert.deepEqual(visited(pack(), [entry("QH-2")]), [false, true, false]);
  assert.deepEqual(visited(pack(), [entry("QH-2", { state: "sent", happened_ms: NOW - DAY })]), [false, false, false]);
  const told = pack({ trees: [tree("QH-1", { today: { outcome: "frozen", at_ms: NOW - 1, mine: false } }), tree("QH-2")] });
  assert.deepEqual(visited(told, []), [true, false]);
  assert.deepEqual(visited({ ...told, day: "2026-03-13" }, []), [false, false]);
});

test("an entry of yesterday that came in today is listed, and its tree is still to visit", () => {
  const late = { id: "s1", tree: "QH-1", outcome: "sap", ml: 1, net_ml: 1, at_ms: NOW - DAY, state: "counted", why: [] };
  assert.deepEqual(visited(pack({ entries: [late] }), []), [false, false, false]);
  assert.equal(round.todays(pack({ entries: [late] }), [], NOW).length, 1);
});

test("an entry that was not accepted does not make a tree visited", () => {
  assert.deepEqual(visited(pack(), [entry("QH-1", { state: "refused" })]), [false, false, false]);
});

test("an entry taken back makes the tree to visit again", () => {
  const one = entry("QH-1", { tries: 1 });
  assert.deepEqual(visited(pack(), [one, entry("QH-1", { kind: "undo", body: { of: one.id } })]), [false, false, false]);
  const told = pack({
    trees: [tree("QH-1", { today: { outcome: "sap", at_ms: NOW - 5, mine: true } })],
    entries: [{ id: "s1", tree: "QH-1", outcome: "sap", ml: 6000, net_ml: 6000, at_ms: NOW - 5, state: "counted", why: [] }],
  });
  assert.deepEqual(visited(told, []), [true]);
  assert.deepEqual(visited(told, [entry("QH-1", { kind: "undo", body: { of: "s1" } })]), [false]);
});

test("a tree to pull is done when its spout is out, or when nobody could get to it", () => {
  const to_pull = pack({ trees: [tree("QH-1", { pull: true })] });
  assert.deepEqual(visited(to_pull, [entry("QH-1")]), [false]);
  assert.deepEqual(visited(to_pull, [entry("QH-1", { body: { outcome: "no_access" } })]), [true]);
  assert.deepEqual(visited(to_pull, [entry("QH-1", { kind: "pull", body: { tap: "tap-QH-1" } })]), [true]);
  const two = pack({ trees: [tree("QH-1", { pull: true, taps: [{ id: "a", at_ms: 1, ml: 8000 }, { id: "b", at_ms: 2, ml: 8000 }] })] });
  assert.deepEqual(visited(two, [entry("QH-1", { kind: "pull", body: { tap: "a" } })]), [false]);
});

test("a hole drilled on this phone puts its tree on the round at once, and only once when the pack has it", () => {
  const bare = pack({ trees: [tree("QH-1", { taps: [] })] });
  assert.equal(round.onRound(round.stops(bare, [], NOW)).length, 0);
  const hole = entry("QH-1", { kind: "tap", id: "h1", body: { holds_ml: 10_000 } });
  const [stop] = round.onRound(round.stops(bare, [hole], NOW));
  assert.deepEqual(stop.taps.map((tap) => tap.ml), [10_000]);
  const told = pack({ trees: [tree("QH-1", { taps: [{ id: "h1", at_ms: NOW, ml: 10_000 }] })] });
  assert.equal(round.stops(told, [hole], NOW)[0].taps.length, 1);
});

test("the next tree is the next in order, round to the start, and those put off come last", () => {
  const at = (entries, after, later) => round.nextStop(round.stops(pack(), entries, NOW), after, later)?.code;
  assert.equal(at([], ""), "QH-1");
  assert.equal(at([], "QH-1"), "QH-2");
  assert.equal(at([entry("QH-3")], "QH-2"), "QH-1");
  assert.equal(at([], "", ["QH-1"]), "QH-2");
  assert.equal(at([entry("QH-2"), entry("QH-3")], "", ["QH-1"]), "QH-1");
  assert.equal(at([entry("QH-1"), entry("QH-2"), entry("QH-3")], ""), undefined);
});

test("what is in hand weighs what was kept since it was last emptied", () => {
  const list = [entry("QH-1", { body: { volume_ml: 8000, discarded_ml: 1500 } }), entry("QH-2", { body: { volume_ml: 3500 } })];
  // 6.5 L and 3.5 L of sap at 1.008 kg a litre: the density of 2 °Brix at 4 °C, ICUMSA, from the core.
  assert.equal(round.carriedG(pack(), list, NOW), 10_080);
  assert.equal(round.carriedG(pack(), list, NOW, NOW), 0);
  assert.equal(round.carriedG(pack({ emptied_ms: NOW - 1 }), list, NOW), 0);
});

test("the next pail is warned about when it would pass what the person carries, not when it just reaches it", () => {
  const stop = { last: { ml: 8000 } };
  assert.equal(round.tooHeavy(stop, pack(), 20_000 - 8064), null);
  assert.deepEqual(round.tooHeavy(stop, pack(), 20_000 - 8063), { next_g: 8064, total_g: 20_001, limit_g: 20_000 });
  assert.equal(round.tooHeavy({ last: { ml: 30_000 } }, pack(), 0), null, "with empty hands there is nothing to set down");
});

test("a tree without a last time is expected to give what the others gave", () => {
  const p = pack({ trees: [tree("QH-1", { last: { ml: 4000 } }), tree("QH-2", { last: { ml: 8000 } }), tree("QH-3")] });
  assert.equal(round.expectedMl(p.trees[2], p), 6000);
  assert.equal(round.expectedMl(tree("QH-1"), pack()), 0);
});

test("ten pails from one are doubted, with what was probably meant; just over the mark is not", () => {
  const stop = tree("QH-1");
  const ask = (body, p = pack()) => round.doubts(body, stop, p);
  assert.deepEqual(ask({ volume_ml: 8800 }), []);
  assert.equal(ask({ volume_ml: 8801 })[0].code, "pails");
  assert.deepEqual(ask({ volume_ml: 80_000 })[0], { code: "pails", pail_ml: 8000, times: 10, meant_ml: 8000 });
  // 6.5 typed as gallons is 24.605 L; NIST SP 811.
  const us = pack({ person: { ...pack().person, units: "us" } });
  assert.equal(ask({ volume_ml: 24_605 }, us)[0].meant_ml, 6500);
  assert.deepEqual(ask({ volume_ml: 1, sugar_brix: 0.79 }).map((one) => one.code), ["brix"]);
  assert.deepEqual(ask({ volume_ml: 1, sugar_brix: 5 }), []);
  assert.deepEqual(ask({ volume_ml: 1, day: "2026-04-11" }).map((one) => one.code), ["day"]);
});

test("what changed is told: most urgent first, and nothing twice", () => {
  const before = pack({ boil_days: [{ id: 1, day: "2026-03-16", site: "Yard", starts_ms: null, off: false }] });
  const after = pack({
    trees: [tree("QH-1", { pull: true, why: ["The town has said no."] }), tree("QH-2", { hint: "New code 44" }), tree("QH-4")],
    boil_days: [{ id: 1, day: "2026-03-17", site: "Yard", starts_ms: null, off: false }],
  });
  assert.deepEqual(round.changes(before, after).map((one) => one.what), ["pull", "gone", "boil_moved", "fresh", "hint"]);
  assert.deepEqual(round.changes(before, after)[2].was, "2026-03-16");
  assert.deepEqual(round.changes(after, after), []);
  assert.deepEqual(round.changes(null, after), []);
});

test("another person's pack, or another group's, is no news", () => {
  const other = pack({ person: { ...pack().person, key: "anna" }, trees: [] });
  assert.deepEqual(round.changes(pack(), other), []);
  assert.deepEqual(round.changes(pack(), pack({ group: { id: 2, name: "Mill Race" }, trees: [] })), []);
});

test("a boiling day called off, or taken out, is told", () => {
  const day = { id: 1, day: "2026-03-16", site: "Yard", starts_ms: null, off: false };
  const what = (after) => round.changes(pack({ boil_days: [day] }), pack({ boil_days: after })).map((one) => one.what);
  assert.deepEqual(what([{ ...day, off: true }]), ["boil_off"]);
  assert.deepEqual(what([]), ["boil_off"]);
  assert.deepEqual(what([day]), []);
});

test("the way is drawn inside its box, north up, over the streets", () => {
  const at = { 1: [-87.35, 47.05], 2: [-87.35, 47.06], 3: [-87.34, 47.05] };
  const p = pack({ trees: [1, 2, 3].map((n) => tree(`QH-${n}`, { at: at[n] })) });
  const street = [-8_735_000, 4_705_000, 0, 1_000]; // along the first leg
  const { points, streets, px_m } = round.way(round.stops(p, [], NOW), { streets: [street, [0, 0, 5, 5]], high: 96 });
  assert.ok(points.every(({ x, y }) => x >= 13.9 && x <= 314.1 && y >= 13.9 && y <= 82.1));
  assert.ok(points[1].y < points[0].y, "north is up");
  assert.ok(points[2].x > points[0].x, "east is right");
  assert.deepEqual(streets, [`M${points[0].x} ${points[0].y}L${points[1].x} ${points[1].y}`], "streets far off are left out");
  assert.ok(Math.abs((points[0].y - points[1].y) / px_m - 1_111.95) < 2, "to scale");
  assert.deepEqual(round.way([]), { points: [], streets: [], px_m: 0 });
});

test("the way goes from the tree visited last to this one, and on to the next that is left", () => {
  const p = pack({ trees: [1, 2, 3, 4].map((n) => tree(`QH-${n}`)) });
  const entries = [entry("QH-1", { happened_ms: NOW - 120_000 }), entry("QH-3")];
  const rows = round.todays(p, entries, NOW);
  const { from, shown } = round.wayTo(round.stops(p, entries, NOW), "QH-2", rows);
  assert.deepEqual([from.code, shown.map((stop) => stop.code)], ["QH-3", ["QH-3", "QH-2", "QH-4"]]);
  assert.deepEqual(round.wayTo(round.stops(p, [], NOW), "QH-2", []).shown.map((stop) => stop.code), ["QH-2", "QH-3", "QH-4", "QH-1"]);
  assert.deepEqual(round.wayTo([], "QH-2", []), { from: null, shown: [] });
});

test("which of eight ways, and a round length for the scale", () => {
  assert.deepEqual([[0, 1], [1, 1], [1, 0], [1, -1], [0, -1], [-1, -1], [-1, 0], [-1, 1]].map((to) => round.heading([0, 0], to)), [0, 1, 2, 3, 4, 5, 6, 7]);
  assert.deepEqual([5, 49, 50, 130].map((most) => round.scaleOf(most, 1)), [10, 20, 50, 100]);
  assert.equal(round.scaleOf(130, 0.3048), 200);
});

test("a degree of latitude is 111.2 km", () => {
  // On a sphere of 6,371,008.8 m (WGS 84 mean radius): pi / 180 of it.
  assert.ok(Math.abs(round.distanceM([0, 0], [0, 1]) - 111_195.08) < 0.1);
});

test("a tag is found whole, by its digits, or out of its printed address", () => {
  const stops = round.stops(pack({ trees: [tree("QH-0012"), tree("QH-0112")] }), [], NOW);
  const found = (typed) => round.findTree(stops, typed)?.code;
  assert.equal(found(" qh-0012 "), "QH-0012");
  assert.equal(found("12"), "QH-0012");
  assert.equal(found("112"), "QH-0112");
  assert.equal(found("https://quillhaven.example/tag/QH-0112/"), "QH-0112");
  for (const typed of ["", "0", "999", "QH"]) assert.equal(found(typed), undefined);
});

test("the pail's own marks are its quarters", () => {
  assert.deepEqual(round.marks(8000).map((one) => one.ml), [2000, 4000, 6000, 8000]);
  assert.deepEqual(round.marks(11_356).map((one) => one.ml), [2839, 5678, 8517, 11_356]);
});

test("amounts and weights read in the person's units", () => {
  assert.equal(round.amount(6500, "metric", "en"), "6.5");
  assert.equal(round.amount(3785.411784, "us", "en"), "1");
  assert.equal(round.weight(20_000, "metric"), "20");
  // 1 lb is 453.59237 g exactly: NIST SP 811.
  assert.equal(round.weight(20_000, "us"), "44");
});

test("the run a tree belongs to is today's own, and a pack of yesterday names none", () => {
  const pack = { day: "2026-03-01", zone: "UTC", runs: [{ id: 1, name: "Mill pond", latest_ms: 0, codes: ["QH-0001"] }] };
  const noon = Date.UTC(2026, 2, 1, 12);
  assert.equal(round.runsToday(pack, noon)[0].name, "Mill pond");
  assert.deepEqual(round.runsToday(pack, noon + 86_400_000), []);
  assert.deepEqual(round.runsToday({ day: "2026-03-01", zone: "UTC" }, noon), []);
});
