// Which photos go, and when; no page, no disk.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import * as photos from "../../static/js/phone/photos.js";

const photo = (id, more = {}) => ({ id, entry: "e1", person: "bob", state: "waiting", reasons: [], taken_ms: 1, ...more });

test("a picture keeps its shape, at most 1280 pixels long, and is never blown up", () => {
  assert.deepEqual(photos.fit(4032, 3024), [1280, 960]);
  assert.deepEqual(photos.fit(3024, 4032), [960, 1280]);
  assert.deepEqual(photos.fit(640, 480), [640, 480]);
  assert.deepEqual(photos.fit(9000, 2), [1280, 1]);
});

test("a photo goes when its entry has gone, the oldest first, and only its own writer's", () => {
  const kept = [photo("late", { taken_ms: 9 }), photo("held", { entry: "e2" }), photo("other", { person: "lena" }), photo("first"), photo("no", { state: "refused" })];
  const entries = [{ id: "e1", state: "sent" }, { id: "e2", state: "waiting" }];
  assert.deepEqual(photos.ready(kept, entries, "bob").map((one) => one.id), ["first", "late"]);
});

function phone(kept, words) {
  const base = new Map(kept.map((one) => [one.id, one]));
  const io = {
    ...{ person: "bob", entries: async () => [], all: async () => [...base.values()] },
    ...{ put: async (one) => base.set(one.id, one), remove: async (id) => base.delete(id) },
    post: async (one) => {
      if (!words[one.id]) throw new Error("no line");
      return words[one.id];
    },
  };
  return { base, io };
}

test("a photo leaves the phone only on the server's word; one not accepted stays with its reason", async () => {
  const words = { a: { state: "saved" }, b: { state: "refused", reasons: ["Damaged."] }, c: { state: "before" }, d: { state: "later" }, e: { state: "saved" } };
  const { base, io } = phone(["a", "b", "c", "d", "e"].map((id, n) => photo(id, { taken_ms: n })), words);
  assert.equal(await photos.sendAll(io), 2);
  assert.deepEqual([...base.values()].map(({ id, state, reasons }) => [id, state, ...reasons]), [["b", "refused", "Damaged."], ["d", "waiting"], ["e", "waiting"]]);
});

test("where the line breaks, everything that has no word stays", async () => {
  const { base, io } = phone([photo("a"), photo("b", { taken_ms: 2 })], { a: { state: "saved" } });
  await assert.rejects(photos.sendAll(io));
  assert.deepEqual([...base.keys()], ["b"]);
});

test("photos of every version that was released are read", () => {
  const kept = JSON.parse(readFileSync(new URL("data/photos-1.json", import.meta.url)));
  const entries = [{ id: "e-sent", state: "sent" }, { id: "e-waiting", state: "waiting" }];
  assert.deepEqual(photos.ready(kept, entries, "bob").map((one) => one.entry), ["e-sent"]);
});
