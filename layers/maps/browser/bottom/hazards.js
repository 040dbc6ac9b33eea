// What to keep clear of: a frame of long and short strokes, hatched inside, and a letter; all of it
// tells without colour.
import { table } from "../fishing/cards.js";
import { sign, tapped } from "./overlays.js";
import { markLook } from "../frame/looks.js";
import { depthDigits, part, quantity } from "../frame/words.js";

const MOST_SIGNS = 400;

// A letter for the kind, told in full in the legend, on the card, and to who hears the page.
function letter({ kind }) {
  const known = [["cable", "C"], ["pipeline", "P"], ["area", "A"], ["zone", "A"], ["traffic", "T"], ["unknown", "?"]];
  const found = known.find(([word]) => (kind || "unknown").includes(word));
  return found ? found[1] : kind.slice(0, 1).toUpperCase();
}

// Which letter stands for what, of the kinds on this map.
function letterWords(every) {
  const kinds = {};
  for (const hazard of every) (kinds[letter(hazard)] ||= new Set()).add(hazard.kind || "unknown");
  return Object.keys(kinds).sort().map((key) => `${key} ${[...kinds[key]].sort().join(", ")}`).join("; ");
}

function named(hazard) {
  return hazard.name ? `${hazard.kind}, ${hazard.name}` : hazard.kind || "hazard";
}

function hazardCard(hazard, state) {
  const { depth } = state.units;
  const dry = hazard.depth_m !== null && hazard.depth_m < 0;
  const least = dry ? `dries ${quantity(-hazard.depth_m, depth, 1)}` : quantity(hazard.depth_m, depth, Math.max(1, depthDigits(depth)));
  const kind = hazard.kind || "hazard";
  return table(`Keep clear: ${kind}`, [
    ["Name", hazard.name],
    ["Least depth", hazard.depth_m === null || hazard.depth_m === undefined ? "not given" : least],
    ["Water", hazard.water_level],
    ["Rule", hazard.restriction],
    ["Told", hazard.description],
    ["From", "a chart of unknown age: check the official one"],
  ]);
}

// The hatching that areas are filled with, once a page.
function hatching(renderer, { color, casing }) {
  const root = renderer._container;
  root.querySelector("defs")?.remove();
  const pattern = part("pattern", {
    id: "hazard-hatch", width: 9, height: 9, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)",
  });
  const stripe = (x, stroke) => part("line", { x1: x, y1: 0, x2: x, y2: 9, stroke, "stroke-width": 2 });
  pattern.append(stripe(2, color), stripe(4, casing));
  const defs = part("defs", {});
  defs.append(pattern);
  root.prepend(defs);
}

function isPoint(hazard) {
  return hazard.g.type === "Point";
}

function hazardLayer(state) {
  const group = L.layerGroup();
  const every = state.data.hazards || [];
  const renderer = L.svg({ padding: 0.5 });
  const look = markLook(state.view, "danger");
  const few = every.length <= MOST_SIGNS;
  const box = document.getElementById("hazard-letters");
  box.textContent = `Keep clear: ${letterWords(every)}.`;
  group.on("add", () => { box.hidden = false; });
  group.on("remove", () => { box.hidden = true; });
  for (const hazard of every) {
    const about = () => hazardCard(hazard, state);
    const words = { alt: `Keep clear: ${named(hazard)}`, title: `Keep clear: ${named(hazard)}` };
    if (isPoint(hazard)) {
      const [longitude, latitude] = hazard.g.coordinates;
      group.addLayer(tapped(few ? sign(hazard.g.coordinates, letter(hazard), "hazard", words)
        : L.circleMarker([latitude, longitude], { ...look, dashArray: null, radius: 6, fillColor: look.casing, fillOpacity: 0.9 }), about));
      continue;
    }
    const area = hazard.g.type.endsWith("Polygon");
    const style = { ...look, renderer, fill: area, fillOpacity: 1, className: area ? "hazard-area" : "hazard-line" };
    const pointToLayer = (_, at) => L.circleMarker(at, { ...style, radius: 6 });
    const halo = { renderer, color: look.casing, weight: 6, opacity: 0.85, fill: false };
    group.addLayer(L.geoJSON(hazard.g, { style: halo, pointToLayer, interactive: false }));
    const drawn = L.geoJSON(hazard.g, { style, pointToLayer });
    drawn.on("add", () => hatching(renderer, look));
    group.addLayer(tapped(drawn, about));
    if (few) group.addLayer(tapped(sign(inside(drawn), letter(hazard), "hazard", words), about));
  }
  return group;
}

// A place for the letter: the middle of the longest part's outline, which is never off the thing.
function inside(drawn) {
  let longest = [];
  drawn.eachLayer((layer) => {
    const rings = layer.getLatLngs ? layer.getLatLngs().flat(Infinity) : [layer.getLatLng()];
    if (rings.length > longest.length) longest = rings;
  });
  const at = longest[Math.floor(longest.length / 2)];
  return [at.lng, at.lat];
}

export { hazardCard, hazardLayer };
