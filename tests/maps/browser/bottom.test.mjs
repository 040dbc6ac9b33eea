// Depths unpacked, asked for and coloured, against a slope known in closed form.
import assert from "node:assert/strict";
import test from "node:test";
import { deflateSync } from "node:zlib";

import { mercatorX, mercatorY, unpackDepths } from "../../../layers/maps/browser/bottom/depths.js";
import { depthColours } from "../../../layers/maps/browser/bottom/scale.js";
import { Shades } from "../../../layers/maps/browser/bottom/shades.js";

const ramps = { depth: [[240, 240, 220], [80, 160, 170], [30, 30, 70]], band: [[255, 220, 130], [210, 120, 30]] };
globalThis.document = { getElementById: () => ({ textContent: JSON.stringify({ ramps }) }) };

const [ROWS, COLUMNS, CELL] = [40, 50, 10];
const SCALE = { least: 5, step: 0.01, most: 25 };

// Packed as `pack_depths` says, a number at a time.
function packed(numbers) {
  const planes = new Uint8Array(2 * ROWS * COLUMNS);
  const at = (row, column) => (row < 0 || column < 0 ? 0 : numbers[row * COLUMNS + column]);
  for (let row = 0; row < ROWS; row += 1) {
    for (let column = 0; column < COLUMNS; column += 1) {
      const step = at(row, column) - at(row, column - 1) - at(row - 1, column) + at(row - 1, column - 1);
      const signed = ((step + 98304) % 65536) - 32768;
      const zigzag = signed < 0 ? -2 * signed - 1 : 2 * signed;
      planes[row * COLUMNS + column] = zigzag & 255;
      planes[ROWS * COLUMNS + row * COLUMNS + column] = zigzag >> 8;
    }
  }
  return deflateSync(planes).toString("base64");
}

// 2 cm deeper each cell to the east, 3 cm each cell to the south; the first cell is void.
const numbers = Array.from({ length: ROWS * COLUMNS }, (_, i) => (i ? 1 + 2 * (i % COLUMNS) + 3 * Math.floor(i / COLUMNS) : 0));
const place = { rows: ROWS, columns: COLUMNS, bounds: [0, 0, COLUMNS * CELL, ROWS * CELL], data: packed(numbers) };
const degrees = (x, y) => [(Math.atan(Math.sinh(y / 6378137)) * 180) / Math.PI, (x / 6378137 / Math.PI) * 180];

test("every number comes back", async () => {
  assert.deepEqual([...(await unpackDepths(place, SCALE)).numbers], numbers);
});

test("depth between cells and slope are the plane's", async () => {
  const depths = await unpackDepths(place, SCALE);
  for (const [x, y] of [[123, 77], [250.5, 311.2], [400, 33]]) {
    const plane = 5 + 0.02 * (x / CELL - 0.5) + 0.03 * (ROWS - y / CELL - 0.5);
    assert.ok(Math.abs(depths.depth(...degrees(x, y)) - plane) < 1e-9);
    const rise = Math.hypot(0.02, 0.03) / CELL; // at the equator a metre of the map is one of ground
    assert.ok(Math.abs(depths.slope(...degrees(x, y)) - (Math.atan(rise) * 180) / Math.PI) < 1e-6);
  }
  assert.ok(Number.isNaN(depths.depth(...degrees(-1, 100))));
  assert.ok(Number.isNaN(depths.depth(...degrees(4, ROWS * CELL - 4)))); // the void cell
});

test("web Mercator is the standard's", () => {
  // EPSG:3857 ends at 180° and 85.06°, a square: 20,037,508.34 m (EPSG guidance note 7-2)
  assert.ok(Math.abs(mercatorX(180) - 20037508.34) < 0.01);
  assert.ok(Math.abs(mercatorY(85.0511287798) - 20037508.34) < 0.1);
});

test("the band is warm, and the rest gets darker with depth", () => {
  const colours = depthColours(20, "day");
  const shades = new Shades(SCALE, 20);
  const table = shades.table([9, 11], colours);
  const flat = (depth) => table[shades.levelOf[1 + Math.round((depth - 5) / 0.01)] + 19]; // light of level ground
  const rgb = (number) => [number & 255, (number >> 8) & 255, (number >> 16) & 255];
  const light = (depth) => rgb(flat(depth)).reduce((sum, one) => sum + one);
  for (const depth of [9.1, 10, 10.9]) assert.ok(rgb(flat(depth))[0] > rgb(flat(depth))[2] + 40);
  for (const depth of [5.5, 8.8, 11.2, 19]) assert.ok(rgb(flat(depth))[0] < rgb(flat(depth))[2] + 40);
  assert.ok(light(6) > light(8) && light(8) > light(12) && light(12) > light(19));
});
