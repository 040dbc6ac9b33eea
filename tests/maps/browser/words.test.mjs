// Numbers and places as people read them.
import assert from "node:assert/strict";
import test from "node:test";

import { degreesMinutes, direction, position, quantity, rounded, roundedDown, span } from "../../../layers/maps/browser/frame/words.js";

test("halves are rounded away from zero, and there is no minus zero", () => {
  assert.deepEqual([0.5, 1.5, 2.5, -2.5, 0.049, -0.4].map((one) => rounded(one)), ["1", "2", "3", "-3", "0", "0"]);
  assert.equal(rounded(1.005, 2), "1.01"); // 1.00499999999999989… in binary
});

test("what there is at least is never rounded up", () => {
  assert.equal(roundedDown(7.99), "7");
  assert.equal(roundedDown(-0.01), "-1");
  assert.equal(roundedDown(1.524 / 0.3048), "5"); // 5 ft, 4.999999999999999 in binary
});

test("minutes carry into degrees, and signs into letters", () => {
  assert.equal(degreesMinutes(45.99999999, "NS", 2), "46°00.000′N");
  assert.equal(degreesMinutes(-0.5, "EW", 3), "000°30.000′W");
  assert.equal(position(-33.8568, 151.2153), "33°51.408′S  151°12.918′E");
  assert.equal(position(10, 190), position(10, -170));
});

test("directions have three figures and no 360", () => {
  assert.deepEqual([0, 4.6, 359.6, null].map(direction), ["000°", "005°", "000°", "unknown"]);
});

test("lengths of time and quantities", () => {
  assert.deepEqual([29, 89 * 60, 5400].map(span), ["0 min", "89 min", "1.5 h"]);
  assert.equal(quantity(1852, ["nm", 1852], 2), "1.00 nm");
  assert.equal(quantity(NaN, ["m", 1]), "unknown");
});
