// What is shown: a switch for each layer, with a sample of its look.
import { bulkLayers } from "../fishing/bulk.js";
import { rateSteps } from "../fishing/cards.js";
import { lineLayer, stretchLayer } from "../fishing/lines.js";
import { planLayer, runLayer } from "../fishing/plan.js";
import { catchLayer, fishLooks, trackLayer } from "../fishing/tracks.js";
import { expectedLayer } from "../bottom/expected.js";
import { hazardLayer } from "../bottom/hazards.js";
import { changeLayer, changeLook, doubtfulLayer, moveLayer } from "../bottom/changes.js";
import { nextLayer, soundingLayer } from "../bottom/soundings.js";
import { roseLayer } from "../bottom/hour.js";
import { placeLayer, placesOf, scouted } from "../bottom/places.js";
import { css } from "../bottom/scale.js";
import { bandLayer, chartContourLayer, contourLayer, edgeLayer, featureLayer, ticksOf } from "../bottom/structure.js";
import { basemapSwitch } from "./basemap.js";
import { tick } from "./card.js";
import { markLook } from "./looks.js";
import { make, part } from "./words.js";

// Name, tables, how it is drawn, whether it is on at first, and its look or what draws its sample.
const LAYERS = [
  ["Contours", "contours", contourLayer, true, "contour"],
  ["Contours of the chart", "chart_contours", chartContourLayer, false, "chart_contour"],
  ["Band outline", "band", bandLayer, false, "band_edge"],
  ["Edges", "edges", edgeLayer, true, tickedSample],
  ["Humps and holes", "features", featureLayer, true, (state) => ["hump", "hole"].map((kind) => markLook(state.view, kind).symbol).join("")],
  ["Runs", "pieces", (state) => trackLayer(state, "run"), false, "run"],
  ["Drifts", "drifts pieces", (state) => trackLayer(state, "drift"), true, "drift"],
  ["Holds", "pieces", (state) => trackLayer(state, "hold"), true, "hold"],
  ["Gaps", "pieces", (state) => trackLayer(state, "gap"), false, "gap"],
  ["Lines by rate", "lines", lineLayer, true, null],
  ["Hot stretches", "stretches", stretchLayer, true, "stretch"],
  ["Current by hour of the tide", "rose", roseLayer, true, "current"],
  ["Catches", "catches", catchLayer, true, fishSample],
  ["Filled and scoured", "changes", changeLayer, true, changeSample],
  ["Moved since the older survey", "moves", moveLayer, true, "moved"],
  ["Doubtful soundings", "doubtful", doubtfulLayer, true, (state) => markLook(state.view, "doubtful").symbol],
  ["Own soundings", "soundings", soundingLayer, true, "agrees"],
  ["Lines to sound next", "next_lines", nextLayer, true, "way"],
  ["Hazards", "hazards", hazardLayer, true, "danger"],
  ["Planned runs", "runs", runLayer, true, "way"],
  ["Planned lines", "plan", planLayer, true, "plan"],
];

// What a look says, where the card or the list does not.
const HINTS = {
  Edges: "Ticks on the deeper side.",
  "Filled and scoured": "Whole outline, brown: shallower now. Dashed, blue: deeper now.",
  "Moved since the older survey": "Arrows from where it was to where it is.",
  "Doubtful soundings": "One cell, far above or below the ground around it: an error, or a rock.",
  "Own soundings": "Green: agrees with the open grid. Red, dashed: differs from it.",
  "Planned runs": "Red, in long and short dashes: not known to be safe. Tap it for why. The line ends where nothing is known.",
  "Lines by rate": "Dotted: drifted once; dashed: twice.",
  Catches: "Dot: kept; ring: not kept.",
  "Contours of the chart": "Where they differ from ours, one of the two is wrong or older.",
  "Current by hour of the tide": "Dashed before high water.",
};

function picture(...parts) {
  const box = part("svg", { viewBox: "0 0 34 20" });
  box.append(...parts);
  return box;
}

function lineSample(state, name) {
  const { color, casing, weight, dashArray } = markLook(state.view, name);
  const line = (stroke, width, dash) => part("line", { x1: 1, x2: 33, y1: 10, y2: 10, stroke, "stroke-width": width, "stroke-dasharray": dash });
  return picture(line(casing, weight + 3, "none"), line(color, weight, dashArray || "none"));
}

function tickedSample(state) {
  const { color, weight } = markLook(state.view, "edge");
  const ticks = ticksOf([[{ x: 33, y: 8 }, { x: 1, y: 8 }]], { apart: 8, length: 7 }).map(([from, to]) => `M${from} L${to}`);
  return picture(part("path", { d: `M1 8 H33 ${ticks.join(" ")}`, stroke: color, "stroke-width": weight, fill: "none" }));
}

function fishSample(state) {
  const { kept, short } = fishLooks(state.view);
  return picture(...[[kept, 9], [short, 25]].map(([look, cx]) =>
    part("circle", { cx, cy: 10, r: look.radius, fill: look.fill, stroke: look.color, "stroke-width": look.weight })));
}

function changeSample(state) {
  return picture(...["filled", "scoured"].map((kind, i) =>
    part("rect", { x: 2 + 17 * i, y: 4, width: 13, height: 12, stroke: markLook(state.view, kind).color, ...changeLook(state.view, kind).sample })));
}

function sample(state, look) {
  const box = make("span", null, "sample");
  box.setAttribute("aria-hidden", "true");
  if (look) box.append(typeof look === "string" ? lineSample(state, look) : look(state));
  return box;
}

// The steps of the rate's colours, with the rates between them.
function rateLegend(state) {
  const box = make("div", null, "steps");
  for (const [colour, words] of rateSteps(state)) {
    const step = make("span", words);
    step.style.borderTopColor = css(colour);
    box.append(step);
  }
  return box;
}

function switches(state) {
  const box = document.getElementById("shown");
  const layers = new Map(); // by name: what is drawn, and how to draw it again
  const add = (name, build, on, look = null) => {
    const { label, input } = tick(name, on);
    input.setAttribute("aria-label", name); // the sample beside it is no part of its name
    const one = { layer: build(), sample: make("span") };
    const set = () => (input.checked ? one.layer.addTo(state.map) : one.layer.remove());
    const show = () => {
      const now = sample(state, look);
      one.sample.replaceWith(now);
      one.sample = now;
      one.steps?.replaceChildren(rateLegend(state));
    };
    label.append(one.sample);
    box.append(label);
    if (name === "Lines by rate") box.append(one.steps = make("div"));
    if (HINTS[name]) box.append(make("p", HINTS[name], "hint"));
    input.addEventListener("change", set);
    show();
    if (on) set();
    layers.set(name, () => {
      one.layer.remove();
      one.layer = build();
      set();
      show();
    });
    return one;
  };
  if (state.picture) add("Depths in colour", () => state.picture.layer, true);
  if (state.expected) add("Expected fish a rod-hour", () => expectedLayer(state), false);
  const own = new Map();
  for (const [name, table, build, on, look] of LAYERS) {
    if (table.split(" ").some((one) => (state.data[one] || []).length)) own.set(name, add(name, () => build(state), on, look));
  }
  if (placesOf(state.data).length) add("Places to look", () => placeLayer(state), scouted(state.data));
  basemapSwitch(box, state);
  state.on("units", () => ["Contours", "Humps and holes"].forEach((name) => layers.get(name)?.()));
  state.on("band", () => own.get("Contours")?.layer.reink());
  state.on("view", () => layers.forEach((again) => again()));
  state.on("only", () => {
    for (const layer of bulkLayers()) layer.redraw();
    layers.get("Lines by rate")?.();
  });
}

export { switches };
