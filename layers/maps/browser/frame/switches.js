// What is shown: a switch for each layer.
import { basemapSwitch } from "./basemap.js";
import { bulkLayers } from "../fishing/bulk.js";
import { tick } from "./card.js";
import { expectedLayer } from "../bottom/expected.js";
import { hazardLayer, LOOK } from "../bottom/hazards.js";
import {
  bandLayer, CHART_LOOK, chartContourLayer, contourLayer, edgeLayer, featureLayer, lineLayer, roseLayer, stretchLayer,
} from "../bottom/overlays.js";
import { planLayer, RUN_LOOK, runLayer } from "../fishing/plan.js";
import { catchLayer, TRACK, trackLayer } from "../fishing/tracks.js";
import { make, part } from "./words.js";

const LAYERS = [
  ["Contours", "contours", contourLayer, true],
  ["Contours of the chart", "chart_contours", chartContourLayer, false],
  ["Band outline", "band", bandLayer, false],
  ["Edges", "edges", edgeLayer, true],
  ["Humps and holes", "features", featureLayer, true],
  ["Runs", "pieces", (state) => trackLayer(state, "run"), false],
  ["Drifts", "drifts pieces", (state) => trackLayer(state, "drift"), true],
  ["Holds", "pieces", (state) => trackLayer(state, "hold"), true],
  ["Gaps", "pieces", (state) => trackLayer(state, "gap"), false],
  ["Lines by rate", "lines", lineLayer, true],
  ["Hot stretches", "stretches", stretchLayer, true],
  ["Current by hour of the tide", "rose", roseLayer, true],
  ["Catches", "catches", catchLayer, true],
  ["Hazards", "hazards", hazardLayer, true],
  ["Planned runs", "runs", runLayer, true],
  ["Planned lines", "plan", planLayer, true],
];

// How each looks on the map: colour, width and dashes of a line, or a mark.
const SAMPLES = {
  Contours: ["#1d2b36", 1.5], "Contours of the chart": [CHART_LOOK.color, CHART_LOOK.weight, CHART_LOOK.dashArray],
  "Band outline": ["#8a4b00", 2, "6 4"], Edges: ["#8c1d5c", 4], "Humps and holes": "▲▽",
  ...Object.fromEntries([["Runs", "run"], ["Drifts", "drift"], ["Holds", "hold"], ["Gaps", "gap"]]
    .map(([name, kind]) => [name, [TRACK[kind].color, TRACK[kind].weight, TRACK[kind].dash?.join(" ")]])),
  "Lines by rate": ["#df7338", 6], "Hot stretches": ["#101820", 14, "3 6"], Catches: "○",
  Hazards: [LOOK.color, LOOK.weight, LOOK.dashArray], "Planned lines": ["#10224d", 9],
  "Planned runs": [RUN_LOOK.color, RUN_LOOK.weight, RUN_LOOK.dashArray],
  "Current by hour of the tide": ["#1f5f8b", 3],
};

// What a look says, where the card or the list does not.
const HINTS = {
  "Planned runs": "Red, in long and short dashes: not known to be safe. Tap it for why. The line ends where nothing is known.",
  "Lines by rate": "Darker pays more. Dotted: drifted once; dashed: twice.",
  Catches: "White: kept; clear: not kept.",
  "Contours of the chart": "Where they leave ours, one of the two is wrong or older.",
};

function sample(name) {
  const look = SAMPLES[name];
  const box = make("span", typeof look === "string" ? look : "", "sample");
  box.setAttribute("aria-hidden", "true");
  if (Array.isArray(look)) {
    const [stroke, width, dash] = look;
    const picture = part("svg", { viewBox: "0 0 34 20" });
    picture.append(part("line", { x1: 1, x2: 33, y1: 10, y2: 10, stroke, "stroke-width": width, "stroke-dasharray": dash || "none" }));
    box.append(picture);
  }
  return box;
}

function switches(state) {
  const box = document.getElementById("shown");
  const rebuild = {};
  const add = (name, build, on) => {
    let layer = build();
    const { label, input } = tick(name, on);
    const set = () => (input.checked ? layer.addTo(state.map) : layer.remove());
    input.addEventListener("change", set);
    input.setAttribute("aria-label", name);  // the sample beside it is no part of its name
    if (SAMPLES[name]) label.append(sample(name));
    box.append(label);
    if (HINTS[name]) box.append(make("p", HINTS[name], "hint"));
    if (on) set();
    rebuild[name] = () => {
      layer.remove();
      layer = build();
      set();
    };
  };
  if (state.picture) add("Depths in colour", () => state.picture.layer, true);
  if (state.expected) add("Expected fish a rod-hour", () => expectedLayer(state), false);
  for (const [name, table, build, on] of LAYERS) {
    if (table.split(" ").some((one) => (state.data[one] || []).length)) add(name, () => build(state), on);
  }
  basemapSwitch(box, state);
  state.on("units", () => ["Contours", "Humps and holes"].forEach((name) => rebuild[name]?.()));
  state.on("only", () => {
    for (const layer of bulkLayers()) layer.redraw();
    rebuild["Lines by rate"]?.();
  });
}

export { switches };
