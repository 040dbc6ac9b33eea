// The hour of the tide: one slider; arrows, height and depths follow it.
import { button, covered, facts, field, isNarrow, openCard, openMiddle, slider, takeTaps, tick } from "../frame/card.js";
import { metresBetween, sectionPicture } from "./profile.js";
import { clock, toward, tryDrift } from "./water.js";
import { markLook } from "../frame/looks.js";
import { arrow, cased, sign } from "./overlays.js";
import { direction, make, part, quantity } from "../frame/words.js";

function hourControl(box, state) {
  const { water } = state;
  box.parentElement.hidden = !water;
  if (!water) return;
  const { label, input, say: tell } = slider("Hour", { min: water.start, max: water.end, step: 300, value: state.moment });
  const numbers = make("div");
  const shown = tick("Arrows on the map: blue the current, black the boat", !isNarrow());
  box.replaceChildren(label, numbers, shown.label);
  const arrows = L.layerGroup();
  const show = () => (shown.input.checked ? arrows.addTo(state.map) : arrows.remove());
  shown.input.addEventListener("change", show);
  show();
  const say = () => {
    input.value = state.moment;
    tell(clock(state.moment, state.data.timezone, true));
    numbers.replaceChildren(facts(rowsOf(state)));
    drawArrows(arrows, state);
  };
  input.addEventListener("input", () => state.set({ moment: Number(input.value) }));
  state.map.on("moveend", () => drawArrows(arrows, state));
  state.on("moment units", say);
  say();
}

function rowsOf(state) {
  const { water, moment, units } = state;
  const height = water.height(moment);
  const change = water.height(moment + 300) - height;
  const trend = !Number.isFinite(change) ? "" : Math.abs(change) < 0.004 ? ", standing" : change > 0 ? ", rising" : ", falling";
  const flow = (velocity) => {
    const [to, speed] = toward(velocity);
    return Number.isFinite(speed) ? `${quantity(speed, units.speed, 1)} toward ${direction(to)}` : "unknown";
  };
  return [
    ["Tide", Number.isFinite(height) ? `${quantity(height, units.depth, 1)}${trend}` : "unknown"],
    ["Current", flow(water.current(moment))],
    ["Wind", `${quantity(water.wind[0], units.speed, 0)} from ${direction(water.wind[1])}`],
    ["Boat left alone", flow(water.boat(moment, water.wind))],
  ];
}

// Blue: the current.  Black, broken: the boat left alone.  Length by speed.
function drawArrows(group, state) {
  group.clearLayers();
  const { map, water, moment } = state;
  const current = toward(water.current(moment));
  const boat = toward(water.boat(moment, water.wind));
  if (!Number.isFinite(current[1])) return;
  const size = map.getSize();
  const { topLeft, bottomRight } = covered();
  const step = Math.max(150, Math.min(size.x, size.y) / 3.5);
  for (let x = topLeft[0] + step / 3; x < size.x - bottomRight[0]; x += step) {
    for (let y = topLeft[1] + step / 3; y < size.y - bottomRight[1]; y += step) {
      const at = map.containerPointToLatLng([x, y]);
      if (state.depths && !Number.isFinite(state.depths.depth(at.lat, at.lng))) continue;
      const icon = L.divIcon({ className: "flow", html: flowPicture(current, boat), iconSize: [0, 0] });
      L.marker(at, { icon, interactive: false, keyboard: false }).addTo(group);
    }
  }
}

function flowPicture(current, boat) {
  const picture = part("svg", { viewBox: "-50 -50 100 100", "aria-hidden": "true" });
  for (const [[to, speed], kind] of [[boat, "boat"], [current, "current"]]) {
    if (!(speed > 0.02)) continue;
    const length = Math.min(60, 12 + speed * 55);
    const transform = `translate(${kind === "boat" ? 9 : 0} 0) rotate(${to.toFixed(1)})`;
    const d = `M0 0 V${-length} M-5 ${7 - length} L0 ${-length} L5 ${7 - length}`;
    picture.append(part("path", { class: "casing", transform, d }), part("path", { class: kind, transform, d }));
  }
  return picture;
}

// The current by hour of the tide: arrows from one place, as long as an hour's run, dashed before high water.
function roseLayer(state) {
  const group = L.layerGroup();
  for (const hour of state.data.rose || []) {
    const before = hour.hours_from_high < 0;
    group.addLayer(cased(hour.g, markLook(state.view, "current"), { dashArray: before ? "6 6" : null }));
    group.addLayer(arrow(hour.g, hour.toward_deg));
    const points = hour.g.coordinates;
    const words = `${before ? "−" : "+"}${Math.abs(hour.hours_from_high)} h`;
    group.addLayer(sign(points[points.length - 1], words, "hours", { interactive: false, keyboard: false }));
  }
  return group;
}

let tried = null; // the last drift tried

const ENDS = { shoal: "It runs out of water, or off the depths.", unknown: "The water is not known after that." };

function openDrift(state) {
  const { water, map } = state;
  const wind = [...water.wind];
  const drawn = L.featureGroup().addTo(map);
  let start = null;
  const form = make("div", null, "row");
  const result = make("div");
  const speed = field(form, `Wind, ${state.units.speed[0]}`, { type: "number", min: "0", max: "60", step: "1", inputmode: "decimal" });
  const from = field(form, "from, degrees true", { type: "number", min: "0", max: "360", step: "5", inputmode: "decimal" });
  speed.value = (wind[0] / state.units.speed[1]).toFixed(0);
  from.value = wind[1].toFixed(0);
  const run = () => {
    drawn.clearLayers();
    result.replaceChildren();
    if (!start) return;
    const found = tryDrift(water, state.depths, start, state.moment, wind);
    tried = found;
    drawDrift(state, drawn, found.track);
    tellDrift(result, state, found);
  };
  const read = () => {
    wind[0] = Math.max(0, Number(speed.value) || 0) * state.units.speed[1];
    wind[1] = Number(from.value) || 0;
    run();
  };
  for (const input of [speed, from]) input.addEventListener("input", read);
  const put = (at) => {
    const wrapped = at.wrap();
    start = [wrapped.lng, wrapped.lat];
    run();
  };
  const startRow = make("div", null, "row");
  startRow.append(button("Start at the centre", () => put(openMiddle(state))));
  openCard("Try a drift", (body) => {
    body.append(
      make("p", "Tap where the boat starts. The map draws its next hour, moved by water and wind alone.", "hint"),
      form, startRow, result,
    );
    run();
  }, () => {
    drawn.remove();
    takeTaps(null);
    deaf();
  });
  takeTaps(put);
  const deaf = state.on("moment", run);
}

function drawDrift(state, group, track) {
  const places = track.map((p) => [p.latitude, p.longitude]);
  const { color, casing, weight, dashArray } = markLook(state.view, "alone");
  L.polyline(places, { color: casing, weight: weight + 4, interactive: false }).addTo(group);
  L.polyline(places, { color, weight, dashArray, interactive: false }).addTo(group);
  track.forEach((p, i) => {
    if (i % 20 !== 0 && i !== track.length - 1) return; // every ten minutes, and the end
    L.circleMarker([p.latitude, p.longitude], { radius: i === 0 ? 8 : 4.5, color, weight: 2.5, fillColor: casing, fillOpacity: 1, interactive: false }).addTo(group);
  });
}

function tellDrift(box, state, { track, ended }) {
  if (!track.length) {
    box.append(make("p", "No water there."));
    return;
  }
  let metres = 0;
  const points = track.map((p, i) => {
    if (i) metres += metresBetween([track[i - 1].longitude, track[i - 1].latitude], [p.longitude, p.latitude]);
    return { metres, depth: p.depth };
  });
  const lasted = track[track.length - 1].moment - track[0].moment;
  const timezone = state.data.timezone;
  if (state.depths) box.append(sectionPicture(state, points, "Water under the boat"));
  box.append(facts([
    ["From", clock(track[0].moment, timezone, true)],
    ["To", clock(track[track.length - 1].moment, timezone)],
    ["Distance", quantity(metres, state.units.distance, 2)],
    ["Mean speed", lasted ? quantity(metres / lasted, state.units.speed, 2) : ""],
  ]));
  if (ENDS[ended]) box.append(make("p", ENDS[ended], "why"));
}

export { hourControl, openDrift, roseLayer, tried };
