// Contours, the band, edges, humps and holes.
import { markLook } from "../frame/looks.js";
import { depthDigits, quantity } from "../frame/words.js";
import { Bulk, placed } from "../fishing/bulk.js";
import { edgeCard, featureCard, table } from "../fishing/cards.js";
import { cased, sign, tapped } from "./overlays.js";
import { css, depthColour, inkOn } from "./scale.js";

const MOST_LABELLED = 60;
const TICK = { apart: 14, length: 7 }; // pixels, of the ticks along an edge

// Dark or light, whichever stands out on the depths at a contour; the other for the halo of its number.
function contourInk({ picture, band, view, data }, depth) {
  if (!picture) return { ink: markLook(view, "contour").color, light: view === "night" };
  const ink = inkOn(depthColour(picture.colours, [data.depths.least, data.depths.most], band, depth), view);
  return { ink: css(ink), light: ink[0] > 128 };
}

function contourLayer(state) {
  const group = L.layerGroup();
  const { weight } = markLook(state.view, "contour");
  const digits = depthDigits(state.units.depth);
  const contours = state.data.contours || [];
  const looks = () => Object.fromEntries(contours.map(({ depth_m }) => [depth_m, { color: contourInk(state, depth_m).ink, weight, opacity: 0.8 }]));
  const lines = new Bulk(contours.map(placed).filter(Boolean), { looks: looks(), style: ({ depth_m }) => String(depth_m), pane: "contours", thin: false });
  group.addLayer(lines);
  const labels = [];
  const taken = [];
  for (const line of [...contours].sort((a, b) => b.length_m - a.length_m).slice(0, MOST_LABELLED)) {
    const label = (line.depth_m / state.units.depth[1]).toFixed(digits);
    for (const share of line.length_m > 2500 ? [0.2, 0.5, 0.8] : [0.5]) {
      const place = along(line.g.coordinates, share);
      if (!place || taken.some((other) => near(other, place.at))) continue;
      taken.push(place.at);
      const mark = sign(place.at, label, "contour", { interactive: false, keyboard: false }).addTo(group);
      const ink = () => mark.getElement()?.classList.toggle("light", contourInk(state, line.depth_m).light);
      mark.on("add", () => {
        mark.getElement().firstChild.style.transform = `translate(-50%, -50%) rotate(${place.turn}deg)`;
        ink();
      });
      labels.push(ink);
    }
  }
  // the band has moved: of the contours only those in it change, so nothing is drawn where none does
  group.reink = () => {
    const now = looks();
    if (Object.keys(now).every((depth) => now[depth].color === lines.looks[depth].color)) return;
    lines.looks = now;
    lines.redraw();
    labels.forEach((ink) => ink());
  };
  return group;
}

// What a chart says, to hold beside ours.
function chartContourLayer(state) {
  const digits = depthDigits(state.units.depth);
  return L.layerGroup(state.data.chart_contours.map((line) => {
    const depth = line.depth_m === null ? "depth not given" : quantity(line.depth_m, state.units.depth, digits);
    return tapped(cased(line.g, markLook(state.view, "chart_contour"), { lineCap: "round" }), () => table(`Charted ${depth}`, [
      ["From", "a chart of unknown age: check the official one"],
    ]));
  }));
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
  return L.layerGroup((state.data.band || []).map((part) => cased(part.g, markLook(state.view, "band_edge"), { interactive: false })));
}

// Ticks to the left of lines of pixels, from the line out: [[x, y], [x, y]] each.
function ticksOf(parts, { apart, length }) {
  const ticks = [];
  for (const points of parts) {
    let left = apart / 2;
    for (let i = 1; i < points.length; i += 1) {
      const [a, b] = [points[i - 1], points[i]];
      const leg = Math.hypot(b.x - a.x, b.y - a.y);
      if (!leg) continue;
      const [right, down] = [(b.x - a.x) / leg, (b.y - a.y) / leg];
      for (; left <= leg; left += apart) {
        const [x, y] = [a.x + right * left, a.y + down * left];
        ticks.push([[x, y], [x + down * length, y - right * length]]);
      }
      left -= leg;
    }
  }
  return ticks;
}

// An edge has its deeper side on its left hand: there it has short ticks.
const Ticked = L.Polyline.extend({
  _updatePath() {
    const renderer = this._renderer;
    if (!renderer._drawing || !this._parts.length) return;
    const path = new Path2D();
    for (const points of this._parts) points.forEach(({ x, y }, i) => (i ? path.lineTo(x, y) : path.moveTo(x, y)));
    for (const [from, to] of ticksOf(this._parts, TICK)) {
      path.moveTo(...from);
      path.lineTo(...to);
    }
    const { casing, color, weight, opacity } = this.options;
    for (const [strokeStyle, lineWidth, globalAlpha] of [[casing, weight + 3, 0.85], [color, weight, opacity]]) {
      Object.assign(renderer._ctx, { strokeStyle, lineWidth, globalAlpha, lineCap: "butt", lineJoin: "round" });
      renderer._ctx.stroke(path);
    }
  },
});

function edgeLayer(state) {
  const look = markLook(state.view, "edge");
  return L.layerGroup((state.data.edges || []).map((edge) => {
    const places = edge.g.coordinates.map(([longitude, latitude]) => [latitude, longitude]);
    const line = new Ticked(places, { ...look, weight: edge.in_band ? look.weight : look.weight * 0.6 });
    return edge.rank ? line.on("click", () => choosePlace(state, edge)) : tapped(line, () => edgeCard(edge, state));
  }));
}

function choosePlace(state, thing) {
  state.set({ chosen: { kind: "places", thing } });
}

// A low between sand waves, hardly deeper than they are high, is one of many: no hole to look at.
function isTrough({ kind, height_m, wave_height_m }) {
  return kind === "hole" && wave_height_m && height_m < 1.5 * wave_height_m;
}

function featureLayer(state) {
  const group = L.layerGroup();
  for (const feature of state.data.features || []) {
    if (isTrough(feature)) continue;
    const look = markLook(state.view, feature.kind);
    const depth = quantity(feature.crest_depth_m, state.units.depth, depthDigits(state.units.depth));
    const name = feature.kind === "hump" ? "Hump" : "Hole";
    const mark = sign(feature.at, `${look.symbol} ${depth}`, "feature", { alt: `${name}, ${depth}` });
    for (const part of [cased(feature.g, look, { fill: true, fillOpacity: 0.06 }), mark]) {
      group.addLayer(feature.rank ? part.on("click", () => choosePlace(state, feature)) : tapped(part, () => featureCard(feature, state)));
    }
  }
  return group;
}

export { bandLayer, chartContourLayer, choosePlace, contourLayer, edgeLayer, featureLayer, ticksOf };
