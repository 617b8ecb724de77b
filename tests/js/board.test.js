// What the board does when it has looked again: who is late now, what changed, and when it must not be swapped.
import assert from "node:assert/strict";
import { test } from "node:test";

import { changed, maySwap, newlyLate } from "../../static/js/board.js";

const before = { 1: { name: "River side", standing: "soon" }, 2: { name: "Hill", standing: "late" }, 3: { name: "Mill", standing: "part" } };
const after = { 1: { name: "River side", standing: "late" }, 2: { name: "Hill", standing: "late" }, 3: { name: "Mill", standing: "part" }, 4: { name: "New", standing: "late" } };

test("only a round that was not late before is called late", () => {
  assert.deepEqual(newlyLate(before, after), ["River side", "New"]);
  assert.deepEqual(newlyLate(after, after), []);
});

test("a line that stands as before is not marked, nor one that is new", () => {
  assert.deepEqual(changed(before, after), ["1"]);
});

test("nothing is swapped under somebody who writes", () => {
  const on = (id, field) => ({ id, matches: () => field });
  assert.equal(maySwap(on("", false), false), true);
  assert.equal(maySwap(on("call-1", false), true), true);
  assert.equal(maySwap(on("", false), true), false);
  assert.equal(maySwap(on("note", true), true), false);
});
