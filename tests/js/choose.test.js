// What is chosen, without a page.
import assert from "node:assert/strict";
import test from "node:test";
import { Chosen, rowsInRing } from "../../static/js/map/choose.js";
import { worldX, worldY } from "../../static/js/map/geometry.js";

test("a tree chosen twice counts once, and its tag is kept", () => {
  const chosen = new Chosen();
  assert.equal(chosen.add([[1, null], [2, "QH-0002"]]), 2);
  assert.equal(chosen.add([[1, "QH-0001"], [2, null]]), 0);
  assert.deepEqual(chosen.tags().sort(), ["QH-0001", "QH-0002"]);
  assert.deepEqual(chosen.untagged(), []);
});

test("a tree the server does not give to this person is let go", () => {
  const chosen = new Chosen();
  chosen.add([[1, null], [2, null], [3, null]]);
  chosen.drop(3);                                     // taken out while the question was on its way
  chosen.tagged([1, 2, 3], [[1, "QH-0001"], [3, "QH-0003"]]);
  assert.deepEqual(chosen.tags(), ["QH-0001"]);
  assert.equal(chosen.size, 1);
});

test("every change is told once", () => {
  let told = 0;
  const chosen = new Chosen(() => { told += 1; });
  chosen.add([[1, "QH-0001"]]);
  chosen.drop(1);
  chosen.drop(1);
  chosen.clear();
  assert.equal(told, 3);
});

test("trees inside the line are taken, those outside are not", () => {
  const view = { world: 256 * 2 ** 17 };
  view.left = worldX(-87.35) * view.world - 100;
  view.top = worldY(47.05) * view.world - 100;
  const rows = [[1, -87.35, 47.05], [2, -87.36, 47.05]].map(([id, lon, lat]) => [id, lon, lat, 1, null, 0, 0, worldX(lon), worldY(lat)]);
  const ring = [[50, 50], [150, 50], [150, 150], [50, 150]];
  assert.deepEqual(rowsInRing(rows, ring, view).map((row) => row[0]), [1]);
});
