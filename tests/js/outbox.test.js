// The outbox without browser, disk or network: both are played here.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import test from "node:test";

import * as outbox from "../../static/js/phone/outbox.js";

const NOW = 1_773_000_000_000;
const clock = (more = {}) => ({ now_ms: NOW, mono_ms: 5_000, session: "s1", contact: null, ...more });
let last = 0;
const entry = (more = {}) => {
  last += 1;
  const made = outbox.newEntry({
    kind: "visit",
    body: { tree: "QH-0001", outcome: "sap", volume_ml: 6500 },
    person: "bob",
    id: `e${last}`,
    clock: clock(),
  });
  return { ...made, n: last, ...more };
};

/** A phone with a disk and a line that does what the test says. */
function phone(entries, { hello = { person: "bob", secret: "x" }, post = saveAll } = {}) {
  const disk = new Map(entries.map((one) => [one.id, one]));
  const sent = [];
  return {
    disk,
    sent,
    all: async () => [...disk.values()],
    put: async (list) => list.forEach((one) => disk.set(one.id, one)),
    clock,
    hello: async () => (typeof hello === "function" ? hello() : hello),
    post: async (batch) => {
      sent.push(batch);
      return post(batch, sent.length);
    },
  };
}
const saveAll = (batch) => ({ answers: batch.entries.map(({ id }) => ({ id, state: "saved", reasons: [] })) });
const breaks = () => {
  throw new TypeError("no line");
};

test("an entry travels with its own time, and how long it waited only while its page is open", () => {
  const one = entry({ mono_ms: 1_000, contact: { server_ms: 1, phone_ms: 2 } });
  assert.equal(outbox.asSent(one, clock()).waited_ms, 4_000);
  assert.equal(outbox.asSent(one, clock({ session: "another" })).waited_ms, undefined);
  assert.equal(outbox.asSent(one, clock()).happened_ms, NOW);
  assert.deepEqual(outbox.asSent(one, clock()).contact, { server_ms: 1, phone_ms: 2 });
});

test("all that waits is sent in the order it was written, twenty-five at a time", async () => {
  const list = Array.from({ length: 60 }, () => entry());
  const io = phone([...list].reverse());
  assert.deepEqual(await outbox.sendAll(io), { state: "sent", sent: 60, others: 0 });
  assert.deepEqual(io.sent.map((batch) => batch.entries.length), [25, 25, 10]);
  assert.deepEqual(io.sent.flatMap((batch) => batch.entries.map((one) => one.id)), list.map((one) => one.id));
});

test("nothing leaves the outbox without the server's word", async () => {
  const io = phone([entry(), entry()], { post: breaks });
  assert.equal((await outbox.sendAll(io)).state, "offline");
  assert.deepEqual([...io.disk.values()].map((one) => [one.state, one.tries]), [["waiting", 1], ["waiting", 1]]);
});

test("an answer that was lost is asked for again, and the second word settles it", async () => {
  const io = phone([entry()], { post: (batch, n) => (n === 1 ? breaks() : { answers: [{ id: batch.entries[0].id, state: "before" }] }) });
  await outbox.sendAll(io);
  assert.equal((await outbox.sendAll(io)).state, "sent");
  assert.deepEqual([...io.disk.values()].map((one) => one.state), ["sent"]);
});

test("an entry without a word of its own goes on waiting, the others do not wait for it", async () => {
  const list = [entry(), entry(), entry()];
  const io = phone(list, {
    post: (batch) => ({ answers: saveAll(batch).answers.map((one) => (one.id === list[1].id ? { ...one, state: "later" } : one)) }),
  });
  const result = await outbox.sendAll(io);
  assert.deepEqual([result.state, result.sent], ["busy", 2]);
  assert.deepEqual(list.map((one) => io.disk.get(one.id).state), ["sent", "waiting", "sent"]);
  assert.equal(io.sent.length, 1, "it is not asked again at once");
});

test("each word has its state, and the reasons stay with the entry", () => {
  const word = (state, more = {}) => outbox.settled(entry(), { state, reasons: ["why"], ...more }, NOW);
  assert.equal(word("saved").state, "sent");
  assert.equal(word("before", { to_review: true }).state, "review");
  assert.equal(word("review", { to_review: true }).state, "review");
  assert.deepEqual([word("refused").state, word("refused").reasons], ["refused", ["why"]]);
  assert.equal(word("later").state, "waiting");
  assert.equal(outbox.settled(entry(), undefined, NOW).state, "waiting");
});

test("only what the signed-in person wrote is sent, and the rest waits for its writer", async () => {
  const io = phone([entry({ person: "anna" }), entry()]);
  const result = await outbox.sendAll(io);
  assert.deepEqual([result.sent, result.others], [1, 1]);
  assert.deepEqual(io.sent.map((batch) => batch.person), ["bob"]);
});

test("a session that ended, and no signal, leave everything as it was", async () => {
  const ended = phone([entry()], { hello: { code: "signed-out" } });
  assert.deepEqual(await outbox.sendAll(ended), { state: "signed-out" });
  const silent = phone([entry()], { hello: breaks });
  assert.deepEqual(await outbox.sendAll(silent), { state: "offline" });
  for (const io of [ended, silent]) assert.deepEqual([...io.disk.values()].map((one) => one.tries), [0]);
});

test("only an entry the server cannot have may simply go", () => {
  assert.equal(outbox.untried(entry()), true);
  assert.equal(outbox.untried(entry({ tries: 1 })), false, "its answer may have been lost");
  assert.equal(outbox.untried(entry({ state: "sent", tries: 1 })), false);
  assert.equal(outbox.untried(entry({ state: "refused", tries: 1 })), true, "the server said it has not kept it");
});

test("a change of an entry never tried is made in place, else by a second", () => {
  const make = (kind, body) => ({ kind, body });
  const body = { tree: "QH-0001", outcome: "sap", volume_ml: 6000 };
  assert.equal(outbox.changed(entry(), body, make).put[0].body.volume_ml, 6000);
  const tried = entry({ tries: 2 });
  assert.deepEqual(outbox.changed(tried, body, make), { put: [], add: [{ kind: "change", body: { ...body, of: tried.id } }] });
});

test("the pauses between tries grow to five minutes, and no two phones keep the same", () => {
  assert.equal(outbox.pause(0, 0.5), 2_000);
  assert.equal(outbox.pause(3, 0.5), 16_000);
  assert.equal(outbox.pause(99, 0.5), 300_000);
  assert.equal(outbox.pause(0, 0) < outbox.pause(0, 1), true);
});

test("what was sent more than two days ago is cleared away, what waits never", () => {
  const old = NOW - 3 * 86_400_000;
  const list = [entry({ state: "sent", sent_ms: old }), entry({ state: "sent", sent_ms: NOW }), entry({ happened_ms: old }), entry({ state: "refused" })];
  assert.deepEqual(outbox.outdated(list, NOW), [list[0].id]);
});

test("a batch holds entries of one format only", async () => {
  const list = [entry({ format: 1 }), entry({ format: 2 }), entry({ format: 1 })];
  const io = phone(list);
  await outbox.sendAll(io);
  assert.deepEqual(io.sent.map((batch) => [batch.format, batch.entries.length]), [[1, 2], [2, 1]]);
});

const folder = new URL("data/", import.meta.url);
for (const name of readdirSync(folder).filter((one) => one.startsWith("queue-"))) {
  test(`a queue as it lay on a phone of version ${name} is sent as it stands`, async () => {
    const kept = JSON.parse(readFileSync(new URL(name, folder), "utf8"));
    const io = phone(kept);
    const result = await outbox.sendAll(io);
    assert.equal(result.sent, kept.length);
    assert.equal(`queue-${io.sent[0].format}.json`, name);
    for (const one of io.sent[0].entries) assert.ok(one.id && one.kind && one.happened_ms && one.tree);
  });
}

test("there is a kept queue for the format of today", () => {
  assert.ok(readdirSync(folder).includes(`queue-${outbox.FORMAT}.json`));
});
