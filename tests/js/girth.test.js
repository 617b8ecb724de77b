// The girth that is shown while it is typed. d = girth / pi; 141 cm round is 44.9 cm across (acceptance C05).
import assert from "node:assert/strict";
import { test } from "node:test";

import { across, sentence, typedSize } from "../../static/js/girth.js";

test("a girth of 141 cm is 44.9 cm across", () => {
  assert.equal(across(141), "44.9");
  assert.equal(across(Math.PI * 30), "30.0");
});

test("a size is read with comma, point or another unit, and left to the server when it is not plain", () => {
  assert.equal(typedSize("141", "cm"), 141);
  assert.equal(typedSize("141,5", "cm"), 141.5);
  assert.equal(typedSize("1.41 m", "cm"), 141);
  assert.equal(typedSize("10 in", "cm"), 25.4);
  assert.equal(typedSize("25.4 cm", "in"), 10);
  for (const text of ["", "4 ft 6 in", "-3", "0", "much"]) assert.equal(typedSize(text, "cm"), null);
});

test("of several stems the largest counts, and they are never added up", () => {
  const words = sentence([80, 96, 70], "cm", "{girth} is {across}.", "The largest: {girth} is {across}.");
  assert.equal(words, "The largest: 96\u00a0cm is 30.6\u00a0cm.");
  assert.equal(sentence([], "cm", "x", "y"), "");
});
