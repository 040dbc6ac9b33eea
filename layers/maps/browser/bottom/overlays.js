// Everything drawn over the bottom, a Leaflet layer each.
import { covered, isNarrow } from "../frame/card.js";
import { rateColour } from "./scale.js";
import { edgeCard, featureCard, lineLook, stretchCard, table } from "../fishing/cards.js";
import { depthDigits, make, quantity } from "../frame/words.js";

const CHART_LOOK = { color: "#0b5345", weight: 2, dashArray: "1 5", lineCap: "round", opacity: 1 };

function shape(geometry, style) {
  return L.geoJSON(geometry, { style: () => style, interactive: true });
}

// How a popup opens: clear of the list, the buttons and the readout.
function popupLook() {
  const { topLeft, bottomRight } = covered();
  if (isNarrow()) bottomRight[1] = 300; // the buttons
  return { maxWidth: 300, autoPanPaddingTopLeft: topLeft, autoPanPaddingBottomRight: bottomRight };
}

// What is chosen shines.
function glowChosen(state) {
  let shining = null;
  state.on("chosen", () => {
    shining?.remove();
    const { kind, thing } = state.chosen || {};
    shining = thing && shape(thing.g, { color: "#fff36b", weight: kind === "plan" ? 22 : 16, opacity: 0.78 }).addTo(state.map);
    shining?.bringToBack();
  });
}

function tapped(layer, build) {
  layer.bindPopup(() => build(), popupLook());
  return layer;
}

// A mark of text at a place; its words are set as text.
function sign(at, text, kind, options = {}) {
  const icon = L.divIcon({ className: `sign ${kind}`, html: make("span", text), iconSize: null });
  return L.marker([at[1], at[0]], { icon, keyboard: true, alt: text, ...options });
}

function contourLayer(state) {
  const group = L.layerGroup();
  const digits = depthDigits(state.units.depth);
  for (const line of state.data.contours || []) {
    group.addLayer(shape(line.g, { color: "#1d2b36", weight: 0.9, opacity: 0.55 }));
  }
  const placed = [];
  const longest = [...(state.data.contours || [])].sort((a, b) => b.length_m - a.length_m);
  for (const line of longest.slice(0, 60)) {
    const label = (line.depth_m / state.units.depth[1]).toFixed(digits);
    for (const share of line.length_m > 2500 ? [0.2, 0.5, 0.8] : [0.5]) {
      const place = along(line.g.coordinates, share);
      if (!place || placed.some((other) => near(other, place.at))) continue;
      placed.push(place.at);
      const mark = sign(place.at, label, "contour", { interactive: false, keyboard: false });
      mark.on("add", () => {
        mark.getElement().firstChild.style.transform = `translate(-50%, -50%) rotate(${place.turn}deg)`;
      });
      group.addLayer(mark);
    }
  }
  return group;
}

// What a chart says, to hold beside ours.
function chartContourLayer(state) {
  const group = L.layerGroup();
  const digits = depthDigits(state.units.depth);
  for (const line of state.data.chart_contours) {
    group.addLayer(shape(line.g, { color: "#ffffff", weight: 3.5, opacity: 0.6, interactive: false }));
    const drawn = shape(line.g, CHART_LOOK);
    const depth = line.depth_m === null ? "depth not given" : quantity(line.depth_m, state.units.depth, digits);
    group.addLayer(tapped(drawn, () => table(`Charted ${depth}`, [
      ["From", "a chart of unknown age: check the official one"],
    ])));
  }
  return group;
}

function near(a, b) {
  return Math.hypot(a[0] - b[0], a[1] - b[1]) < 0.0025;
}

// The place a share of the way along, and the turn that keeps a label there upright.
function along(coordinates, share) {
  const at = Math.floor((coordinates.length - 1) * share);
  const [a, b] = [coordinates[Math.max(0, at - 2)], coordinates[Math.min(coordinates.length - 1, at + 2)]];
  if (!a || !b) return null;
  const east = (b[0] - a[0]) * Math.cos((a[1] * Math.PI) / 180);
  let turn = (-Math.atan2(b[1] - a[1], east) * 180) / Math.PI;
  if (turn > 90) turn -= 180;
  if (turn < -90) turn += 180;
  return { at: coordinates[at], turn };
}

function bandLayer(state) {
  const group = L.layerGroup();
  for (const part of state.data.band || []) {
    group.addLayer(
      L.geoJSON(part.g, {
        interactive: false,
        style: () => ({ color: "#8a4b00", weight: 1.6, dashArray: "6 4", fill: false, opacity: 0.9 }),
      }),
    );
  }
  return group;
}

function edgeLayer(state) {
  const group = L.layerGroup();
  for (const edge of state.data.edges || []) {
    const weight = edge.in_band ? 4 : 2.5;
    group.addLayer(shape(edge.g, { color: "#ffffff", weight: weight + 2, opacity: 0.7 }));
    const line = shape(edge.g, { color: "#8c1d5c", weight, opacity: edge.in_band ? 0.95 : 0.6 });
    group.addLayer(tapped(line, () => edgeCard(edge, state)));
  }
  return group;
}

function featureLayer(state) {
  const group = L.layerGroup();
  for (const feature of state.data.features || []) {
    const hump = feature.kind === "hump";
    const style = { color: hump ? "#5b3a00" : "#102a6b", weight: 1.5, dashArray: "3 4", fillOpacity: 0.08 };
    group.addLayer(tapped(shape(feature.g, style), () => featureCard(feature, state)));
    const depth = quantity(feature.crest_depth_m, state.units.depth, depthDigits(state.units.depth));
    const mark = sign(feature.at, `${hump ? "▲" : "▽"} ${depth}`, hump ? "hump" : "hole");
    group.addLayer(tapped(mark, () => featureCard(feature, state)));
  }
  return group;
}

function lineLayer(state) {
  const group = L.layerGroup();
  const most = Math.max(0, ...(state.data.lines || []).map((line) => line.rate || 0));
  for (const line of [...(state.data.lines || [])].reverse()) {
    if (state.only.line(line)?.shown === false) continue;
    const look = lineLook(line);
    const halo = shape(line.g, { color: "#1b1b1b", weight: look.weight + 3, opacity: 0.9 });
    const drawn = shape(line.g, {
      color: rateColour(line.rate, most), weight: look.weight, dashArray: look.dash, opacity: 1,
    });
    const start = line.g.coordinates[0];
    const badge = sign(start, String(line.rank), "rank", { title: `Line ${line.line}, rank ${line.rank}` });
    badge.on("add", () => behind(badge, line.course_deg || 0));
    const end = arrow(line);
    for (const part of [halo, drawn, badge]) {
      part.on("click", () => state.set({ chosen: { kind: "lines", thing: line } }));
      group.addLayer(part);
    }
    group.addLayer(end);
  }
  return group;
}

// The badge stands behind the start, off the line itself.
function behind(badge, course) {
  const [east, south] = [Math.sin((course * Math.PI) / 180), -Math.cos((course * Math.PI) / 180)];
  const [x, y] = [-east * 20, -south * 20].map((pixels) => pixels.toFixed(0));
  badge.getElement().firstChild.style.transform = `translate(calc(-50% + ${x}px), calc(-50% + ${y}px))`;
}

// Which way the line is drifted: an arrow head at its end.
function arrow(line) {
  const points = line.g.coordinates;
  const mark = sign(points[points.length - 1], "▲", "arrow", { interactive: false, keyboard: false, zIndexOffset: -1000 });
  mark.on("add", () => {
    mark.getElement().firstChild.style.transform = `translate(-50%, -50%) rotate(${line.course_deg || 0}deg)`;
  });
  return mark;
}

// Where a line's fish came: a wide rail of rungs across the line, a ring at either end, and the word.
function stretchLayer(state) {
  const group = L.layerGroup();
  for (const stretch of state.data.stretches || []) {
    const about = () => stretchCard(stretch, state);
    const points = stretch.g.coordinates;
    group.addLayer(shape(stretch.g, { color: "#ffffff", weight: 24, opacity: 0.55, lineCap: "butt" }));
    const rungs = shape(stretch.g, { color: "#101820", weight: 22, dashArray: "3 9", opacity: 0.95, lineCap: "butt" });
    group.addLayer(tapped(rungs, about));
    for (const [longitude, latitude] of [points[0], points[points.length - 1]]) {
      group.addLayer(L.circleMarker([latitude, longitude], {
        radius: 8, color: "#101820", weight: 3, fillColor: "#ffffff", fillOpacity: 1, interactive: false,
      }));
    }
    const name = `Hot stretch of ${stretch.line}`;
    group.addLayer(tapped(sign(points[Math.floor(points.length / 2)], "hot", "stretch", { alt: name, title: name }), about));
  }
  return group;
}

// The current by hour of the tide: arrows from one place, as long as an hour's run, blue before high
// water.
function roseLayer(state) {
  const group = L.layerGroup();
  for (const hour of state.data.rose || []) {
    const color = hour.hours_from_high < 0 ? "#1f5f8b" : "#b0413e";
    group.addLayer(shape(hour.g, { color: "#ffffff", weight: 6, opacity: 0.8 }));
    group.addLayer(shape(hour.g, { color, weight: 3, opacity: 1 }));
    group.addLayer(arrow({ g: hour.g, course_deg: hour.toward_deg }));
    const sooner = hour.hours_from_high < 0 ? "−" : "+";
    const words = `${sooner}${Math.abs(hour.hours_from_high)} h`;
    const points = hour.g.coordinates;
    const quiet = { interactive: false, keyboard: false };
    group.addLayer(sign(points[points.length - 1], words, "contour", quiet));
  }
  return group;
}

export { arrow, bandLayer, behind, CHART_LOOK, chartContourLayer, contourLayer, edgeLayer, featureLayer, glowChosen, lineLayer, popupLook, roseLayer, shape, sign, stretchLayer, tapped };
