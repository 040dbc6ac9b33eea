// Tide, current and a boat left to them.
import assert from "node:assert/strict";
import test from "node:test";

import { degreesPerMetre, toward, tryDrift, Water } from "../../../layers/maps/browser/bottom/water.js";

const still = { height_m: null, east_mps: [0.3, 0.3], north_mps: [-0.4, -0.4], wind: [0, 0], downwind_slope: 0.03, downwind_offset_mps: 0, light_air_mps: 1 };
const water = new Water({ start: 1000, step: 7200, count: 2, ...still });

test("a degree is as long as tables of the ellipsoid say", () => {
  // WGS 84 at 45°: 111,131.78 m of latitude, 78,846.8 m of longitude (tables of length of a degree)
  const [east, north] = degreesPerMetre(45).map((one) => 1 / one);
  assert.ok(Math.abs(north - 111131.78) < 0.05);
  assert.ok(Math.abs(east - 78846.8) < 0.05);
});

test("samples are joined by straight lines, and nothing is known outside them", () => {
  const tide = new Water({ start: 0, step: 100, count: 3, ...still, height_m: [1, 3, null] });
  assert.deepEqual([0, 25, 100].map((at) => tide.height(at)), [1, 1.5, 3]);
  for (const at of [-1, 150, 201]) assert.ok(Number.isNaN(tide.height(at)));
});

test("in a steady current a boat goes straight, as far as speed by time", () => {
  const { track, ended } = tryDrift(water, null, [-31.4, 46.2], 1000, [0, 0]);
  assert.equal(ended, "time");
  const [first, last] = [track[0], track.at(-1)];
  const [perEast, perNorth] = degreesPerMetre(46.2);
  assert.ok(Math.abs((last.longitude - first.longitude) / perEast - 0.3 * 3600) < 0.3);
  assert.ok(Math.abs((last.latitude - first.latitude) / perNorth + 0.4 * 3600) < 0.3);
});

test("wind pushes downwind, by its share", () => {
  const [east, north] = water.leeway([5, 270]); // from the west
  assert.ok(Math.abs(east - 0.15) < 1e-12 && Math.abs(north) < 1e-12);
});

test("a drift ends where the water ends", () => {
  const shoal = { depth: (latitude) => (latitude > 46.195 ? 4 : NaN) };
  const { track, ended } = tryDrift(water, shoal, [-31.4, 46.2], 1000, [0, 0]);
  assert.equal(ended, "shoal");
  assert.ok(track.at(-1).latitude > 46.195);
  assert.equal(tryDrift(water, null, [-31.4, 46.2], 1000 + 7000, [0, 0]).ended, "unknown");
});

test("directions turn from north by east", () => {
  const points = [[0, 1], [1, 0], [0, -1], [-1, 0]];
  assert.deepEqual(points.map((one) => toward(one)[0]), [0, 90, 180, 270]);
});
