// The sum at the bottling table. Litres of a gallon: exact by definition (NIST Special Publication 811, appendix B).
import assert from "node:assert/strict";
import { test } from "node:test";

import { evenOut, jarMl, typedMl } from "../../static/js/lots.js";

test("amounts are read in the page's unit unless they name their own", () => {
  assert.equal(typedMl("0.32", "L"), 320);
  assert.equal(typedMl("0,32", "L"), 320);
  assert.equal(typedMl("320 mL", "L"), 320);
  assert.equal(typedMl("320 ml", "gal"), 320);
  assert.equal(typedMl("0.5 L", "gal"), 500);
  assert.equal(typedMl("1", "gal"), 3785);
  assert.equal(typedMl("", "L"), 0);
  assert.equal(typedMl("a cup", "L"), 0);
});

test("a packing worked by hand: 18 jars of 250 mL, heel 320, filter 100 out of 5,000 leave 80", () => {
  const given = { drawn: 5000, rows: [{ size: 250, filled: 18 }], heel: 320, filter: 100, tolerancePct: 5, toleranceMl: 50 };
  assert.deepEqual(evenOut(given), { jars: 4500, left: 80, allowed: 250, state: "even" });
  assert.equal(evenOut({ ...given, heel: 0, filter: 0 }).state, "over");
  assert.equal(evenOut({ ...given, rows: [] }).state, "begun");
  assert.equal(evenOut({ ...given, rows: [{ size: 250, filled: 22 }], heel: 0, filter: 0 }).left, -500);
});

test("a jar's bare size is millilitres or US fluid ounces, as on its label", () => {
  assert.equal(jarMl("330", "L"), 330);
  assert.equal(jarMl("0.33 L", "L"), 330);
  assert.equal(jarMl("12", "gal"), 355); // 12 US fl oz are 354.88 mL, by definition of the gallon
  assert.equal(jarMl("12 fl oz", "L"), 355);
  assert.equal(jarMl("375 mL", "gal"), 375);
  assert.equal(jarMl("", "L"), 0);
});
