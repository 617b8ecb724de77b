// The check-in clock and the looks that wait for signal, without a page.
import assert from "node:assert/strict";
import test from "node:test";
import { clockAt, every, latest } from "../../static/js/pan/clock.js";
import { Waiting, newToken } from "../../static/js/pan/waiting.js";

const MINUTE = 60_000;

function shelf() {
  const held = new Map();
  return { getItem: (key) => held.get(key) ?? null, setItem: (key, value) => held.set(key, value) };
}

test("ten minutes after the last look it is time, and not a moment before", () => {
  const last = 1_000_000;
  assert.deepEqual(clockAt(last, last, 10), { gone: 0, left: 10, late: false, dueMs: last + 10 * MINUTE });
  assert.equal(clockAt(last, last + 10 * MINUTE - 1, 10).late, false);
  assert.equal(clockAt(last, last + 10 * MINUTE - 1, 10).left, 1);
  assert.deepEqual(clockAt(last, last + 10 * MINUTE, 10), { gone: 10, left: 0, late: true, dueMs: last + 10 * MINUTE });
  assert.equal(clockAt(last, last + 25 * MINUTE, 10).gone, 25);
});

test("a clock that jumps back makes no look of the future", () => {
  assert.equal(clockAt(1_000_000, 0, 10).gone, 0);
});

test("the minutes between looks stay between five and fifteen", () => {
  assert.deepEqual(["", null, "x", "1", "5", "12", "15", "90"].map(every), [10, 10, 10, 5, 5, 12, 15, 15]);
});

test("whoever looked last counts", () => {
  assert.equal(latest(5, Number.NaN, 9, 7), 9);
});

test("a look leaves only when it is saved", async () => {
  const waiting = new Waiting(shelf(), "pan-1");
  waiting.add({ token: "a", at: 1 });
  waiting.add({ token: "b", at: 2 });
  assert.deepEqual(await waiting.send(() => { throw new TypeError("no signal"); }), []);
  assert.equal(waiting.mine().length, 2);
  const sent = [];
  await waiting.send((look) => { sent.push(look.token); return { status: sent.length === 1 ? 200 : 503 }; });
  assert.deepEqual(sent, ["a", "b"]);
  assert.deepEqual(waiting.mine().map((look) => look.token), ["b"]);
  assert.equal(waiting.lastMs(), 2);
});

test("a look that is refused is told and not sent again", async () => {
  const waiting = new Waiting(shelf(), "pan-1");
  waiting.add({ token: "a", at: 1 });
  assert.deepEqual(await waiting.send(() => ({ status: 409, said: "This batch is closed." })), ["This batch is closed."]);
  assert.equal(waiting.mine().length, 0);
});

test("looks of another pan stay where they are", async () => {
  const held = shelf();
  new Waiting(held, "pan-1").add({ token: "a", at: 1 });
  const other = new Waiting(held, "pan-2");
  other.add({ token: "b", at: 2 });
  await other.send(() => ({ status: 200 }));
  assert.deepEqual(other.all().map((look) => look.token), ["a"]);
});

test("a second sending waits for the first", async () => {
  const waiting = new Waiting(shelf(), "pan-1");
  waiting.add({ token: "a", at: 1 });
  let count = 0;
  const slow = () => new Promise((done) => { count += 1; setTimeout(done, 5, { status: 200 }); });
  await Promise.all([waiting.send(slow), waiting.send(slow)]);
  assert.equal(count, 1);
});

test("what the device kept in a broken way is let go", () => {
  const held = shelf();
  held.setItem("pan-looks", "{");
  assert.deepEqual(new Waiting(held, "pan-1").all(), []);
});

test("a look has a number of its own, also without https", () => {
  const plain = { getRandomValues: (bytes) => bytes.fill(255) };
  assert.equal(newToken(plain), "ffffffff-ffff-4fff-bfff-ffffffffffff");   // version 4: RFC 9562, section 5.4
  assert.match(newToken(), /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
});
