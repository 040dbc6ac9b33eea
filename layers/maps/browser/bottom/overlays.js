// What layers over the bottom are made of: lines, marks of text, popups.
import { covered, isNarrow } from "../frame/card.js";
import { inkLook, markLook } from "../frame/looks.js";
import { make } from "../frame/words.js";

const CASING = 3; // pixels more than the line over it, or as many as a thin line is wide

function shape(geometry, style) {
  return L.geoJSON(geometry, { style: () => style, interactive: style.interactive !== false });
}

// A line or outline in a meaning's look, over a casing, so that it stands out on every depth.
function cased(geometry, look, options = {}) {
  const under = { color: look.casing, weight: look.weight + Math.min(CASING, look.weight), opacity: 0.85, fill: false, interactive: false };
  return L.featureGroup([shape(geometry, under), shape(geometry, { ...look, fill: false, ...options })]);
}

// How a popup opens: clear of the list, the buttons and the readout.
function popupLook() {
  const { topLeft, bottomRight } = covered();
  return { maxWidth: isNarrow() ? 290 : 340, autoPanPaddingTopLeft: topLeft, autoPanPaddingBottomRight: bottomRight };
}

// What is chosen shines: yellow in black, which no depth hides.
function glowChosen(state) {
  let shining = null;
  state.on("chosen", () => {
    shining?.remove();
    const thing = state.chosen?.thing;
    const weight = state.chosen?.kind === "plan" ? 22 : 16;
    shining = thing && L.featureGroup([["glow", weight], ["black", weight + 4]].map(
      ([ink, width]) => shape(thing.g, { color: inkLook(state.view, ink), weight: width, fill: false, interactive: false }))).addTo(state.map);
    shining?.bringToBack(); // one after another: the black behind the yellow
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

// The badge stands behind the start, off the line itself.
function behind(badge, course) {
  const [east, south] = [Math.sin((course * Math.PI) / 180), -Math.cos((course * Math.PI) / 180)];
  const [x, y] = [-east * 20, -south * 20].map((pixels) => pixels.toFixed(0));
  badge.getElement().firstChild.style.transform = `translate(calc(-50% + ${x}px), calc(-50% + ${y}px))`;
}

// Which way a line runs: an arrow head at its end.
function arrow(geometry, course) {
  const end = geometry.coordinates[geometry.coordinates.length - 1];
  const mark = sign(end, "▲", "arrow", { interactive: false, keyboard: false, zIndexOffset: -1000 });
  mark.on("add", () => {
    mark.getElement().firstChild.style.transform = `translate(-50%, -50%) rotate(${course || 0}deg)`;
  });
  return mark;
}

// The boat, wherever it is shown: a dot in a ring, as a fix is marked on paper.
function boatMarks(state, at) {
  const { color, casing } = markLook(state.view, "boat");
  const ring = { radius: 12, interactive: false };
  return [
    L.circleMarker(at, { ...ring, color: casing, weight: 6, fill: false }),
    L.circleMarker(at, { ...ring, color, weight: 2.5, fillColor: casing, fillOpacity: 1 }),
    L.circleMarker(at, { color, radius: 2, weight: 2, fillColor: color, fillOpacity: 1, interactive: false }),
  ];
}

// A fish of the tally or of a trip run again: full where it was kept.
function fishMark(state, at, kept, options = {}) {
  const { color, casing } = markLook(state.view, "fish");
  const [line, fill] = kept ? [casing, color] : [color, casing];
  return L.circleMarker(at, { radius: 8, color: line, weight: 2.5, fillColor: fill, fillOpacity: 1, ...options });
}

export { arrow, behind, boatMarks, cased, fishMark, glowChosen, popupLook, shape, sign, tapped };
