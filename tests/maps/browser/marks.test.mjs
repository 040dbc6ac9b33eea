// Ticks along an edge, and labels that give way.
import assert from "node:assert/strict";
import test from "node:test";

globalThis.L = { Polyline: { extend: () => null }, Renderer: { extend: () => null } };
const { ticksOf } = await import("../../../layers/maps/browser/bottom/structure.js");
const { arranged } = await import("../../../layers/maps/browser/frame/labels.js");

const point = ([x, y]) => ({ x, y });

test("ticks stand on the left hand, evenly, round corners too", () => {
  // to the east: left is north, which is up the screen; 30 pixels, then 20 to the south: left is east
  const ticks = ticksOf([[[0, 0], [30, 0], [30, 20]].map(point)], { apart: 10, length: 4 });
  assert.deepEqual(ticks.map(([from]) => from), [[5, 0], [15, 0], [25, 0], [30, 5], [30, 15]]);
  assert.deepEqual(ticks.map(([from, to]) => [to[0] - from[0], to[1] - from[1]]), [[0, -4], [0, -4], [0, -4], [4, 0], [4, 0]]);
});

test("a line shorter than half the way between ticks has none", () => {
  assert.deepEqual(ticksOf([[[0, 0], [4, 0]].map(point), [[1, 1], [1, 1]].map(point)], { apart: 10, length: 4 }), []);
});

const box = (left, top) => ({ left, top, right: left + 20, bottom: top + 10, width: 20, height: 10 });
const mark = (left, top, kept = false, room = 0) => ({ box: box(left, top), kept, room });

test("the lesser gives way, and one that must stay moves aside", () => {
  assert.deepEqual(arranged([mark(0, 0), mark(5, 5), mark(40, 0)]), [[0, 0], null, [0, 0]]);
  const [first, second, third] = arranged([mark(0, 0, true), mark(2, 1, true), mark(3, 2, true)]);
  assert.deepEqual(first, [0, 0]);
  assert.deepEqual(second, [20, 0]);
  assert.deepEqual(third, [0, 10]); // right and left are taken
});

test("a kind with room around it thins out", () => {
  assert.deepEqual(arranged([mark(0, 0), mark(25, 0)])[1], [0, 0]);
  assert.equal(arranged([mark(0, 0), mark(25, 0, false, 8)])[1], null);
});
