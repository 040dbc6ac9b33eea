// Which trips and fish are shown, where the boat was, and the log of a tally.
import assert from "node:assert/strict";
import test from "node:test";

import { bearing } from "../../../layers/maps/browser/bottom/section.js";
import { Only } from "../../../layers/maps/browser/fishing/only.js";
import { boatAt } from "../../../layers/maps/browser/fishing/replay.js";
import { tallyCsv } from "../../../layers/maps/browser/fishing/tally.js";

const drifts = [
  { drift_id: "a", line: "N1", start: "2030-05-01 09:00:00", stage: "flood", hours_from_high: -3, rod_hours: 1 },
  { drift_id: "b", line: "N1", start: "2031-06-14 12:00:00", stage: "ebb", hours_from_high: 1, rod_hours: 0.5 },
];
const catches = [
  { drift_id: "a", species: "dab", kept: true, time: "2030-05-01 09:05:00" },
  { drift_id: "b", species: "dab", kept: false, time: "2031-06-14 12:05:00" },
];

test("a line is counted from what is chosen", () => {
  const only = new Only({ drifts, catches });
  assert.equal(only.line({ line: "N1" }), null); // all
  only.set({ from: "2031-01-01" });
  assert.deepEqual(only.line({ line: "N1" }), { drifts: 1, shown: true, hours: 0.5, kept: 0, short: 1 });
  only.set({ fate: "kept" });
  assert.equal(only.line({ line: "N1" }).shown, false);
  only.clear();
  assert.equal(only.any, false);
});

test("hours are within their ends", () => {
  const only = new Only({ drifts, catches });
  only.set({ hours: "4" }); // ½ to 2 h after high water
  assert.deepEqual(drifts.map((row) => only.drift(row)), [false, true]);
});

test("the boat is its share of the way along a piece", () => {
  const pieces = [{ from: 0, to: 100, g: { coordinates: [[0, 0], [0, 0.003], [0, 0.004]] } }];
  const { at } = boatAt(pieces, 50); // half of the way is on the first leg, two thirds along it
  assert.ok(Math.abs(at[0] - 0.002) < 1e-9 && at[1] === 0);
});

test("bearings of great circles", () => {
  assert.equal(bearing([0, 0], [0, 1]), 0);
  assert.ok(Math.abs(bearing([0, 0], [1, 0]) - 90) < 1e-9);
  // from 40° N 0° E to 40° N 90° E, by hand:
  // tan = sin 90° / (cos 40° tan 40° - sin 40° cos 90°) = 1 / sin 40°
  assert.ok(Math.abs(bearing([0, 40], [90, 40]) - (Math.atan(1 / Math.sin((40 * Math.PI) / 180)) * 180) / Math.PI) < 1e-9);
});

test("a tally is a CSV that runs no formula", () => {
  const fish = { time: "2031-06-14T12:00:00Z", species: '=1+1,"x"', length: 15.5, unit: "in", kept: true, note: "", place: [46.2, -31.4] };
  assert.equal(tallyCsv([fish]), 'time,species,length,kept,rod,note,latitude,longitude\n'
    + '2031-06-14T12:00:00Z,"\'=1+1,""x""",15.5 in,yes,,,46.200000,-31.400000\n');
});
