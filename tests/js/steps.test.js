// The log's big steps, without a browser.
import assert from "node:assert/strict";
import test from "node:test";

import { readMl, showMl, step } from "../../static/js/steps.js";

test("a typed amount is read with point or comma, and nothing else", () => {
  assert.equal(readMl("6.5", "L"), 6500);
  assert.equal(readMl(" 6,5 ", "L"), 6500);
  // 1 US gal is 3.785411784 L exactly: NIST Special Publication 811, appendix B.
  assert.equal(readMl("1", "gal"), 3785.411784);
  for (const typed of ["", "six", "-1", "1/2", "1e3"]) assert.equal(readMl(typed, "L"), null);
});

test("steps go to the next whole step, up and down, and never below nothing", () => {
  assert.equal(step(6500, 500, 1), 7000);
  assert.equal(step(6500, 500, -1), 6000);
  assert.equal(step(6300, 500, 1), 6500);
  assert.equal(step(6300, 500, -1), 6000);
  assert.equal(step(0, 500, -1), 0);
});

test("four quart steps show as one gallon", () => {
  let ml = 0;
  for (let n = 0; n < 4; n += 1) ml = step(ml, 946, 1);
  assert.equal(showMl(ml, "gal"), "1");
});

test("an amount shows at most two decimals and none that say nothing", () => {
  assert.equal(showMl(6000, "L"), "6");
  assert.equal(showMl(6543, "L"), "6.54");
});
