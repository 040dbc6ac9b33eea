// Drifts planned for a day: where each starts, which way it runs, and which is on at the hour.
import { button, facts, goTo, openCard, pressRow, refillCard } from "../frame/card.js";
import { markLook } from "../frame/looks.js";
import { leastWater, table } from "./cards.js";
import { arrow, behind, cased, shape, sign, tapped } from "../bottom/overlays.js";
import { drawProfile } from "../bottom/profile.js";
import { clock } from "../bottom/water.js";
import { depthDigits, direction, make, position, quantity, rounded, share } from "../frame/words.js";

const DIM = 0.5;

// On at a moment: from its begin until before its end, while no other line is fished in between.
function isOn(state, line) {
  const { moment } = state;
  if (moment < line.slot[0] || moment >= line.slot[1]) return false;
  const begun = (state.data.plan_passes || []).filter((one) => one.slot[0] <= moment);
  return !begun.length || family(begun[begun.length - 1]) === family(line);
}

// A line and those beside it are fished in turn: "P2" and "P2 L1".
function family(drift) {
  return drift.plan_id.split(" ")[0];
}

function passesOf(state, line) {
  return (state.data.plan_passes || []).filter((one) => one.plan_id === line.plan_id);
}

function hours(state, line) {
  return line.slot.map((moment) => clock(moment, state.data.timezone)).join(" to ");
}

// A white line between two dark ones, a square mark with its name at the start, an arrow at the end.
function planLayer(state) {
  const group = L.layerGroup();
  const drawn = [];
  const look = markLook(state.view, "plan");
  for (const line of state.data.plan || []) {
    const rails = shape(line.g, { color: look.casing, weight: look.weight + 4, opacity: 0.85 });
    const dark = shape(line.g, { color: look.color, weight: look.weight, opacity: 1 });
    const middle = shape(line.g, { color: look.casing, weight: 3, opacity: 1 });
    const words = `Planned line ${line.plan_id}, ${hours(state, line)}`;
    const badge = sign(line.g.coordinates[0], line.plan_id, "plan", { title: words, alt: words });
    badge.on("add", () => behind(badge, line.bearing_deg || 0));
    const end = arrow(line.g, line.bearing_deg);
    for (const layer of [rails, dark, middle, badge]) {
      layer.on("click", () => state.set({ chosen: { kind: "plan", thing: line } }));
      group.addLayer(layer);
    }
    group.addLayer(end);
    drawn.push({ line, rails, dark, middle, marks: [badge, end] });
  }
  const follow = () => drawn.forEach((one) => dim(one, state));
  let deaf = null;
  group.on("add", () => { follow(); deaf = state.on("moment", follow); });
  group.on("remove", () => deaf());
  return group;
}

// Ways between the lines, as far as they are known.
function runLayer(state) {
  const group = L.layerGroup();
  for (const run of state.data.runs || []) {
    const drawn = cased(run.g, markLook(state.view, run.caution ? "danger" : "way"));
    group.addLayer(tapped(drawn, () => table(run.plan_id ? `Run to ${run.plan_id}` : "Run home", runNumbers(run, state.units))));
  }
  return group;
}

function runNumbers(run, units) {
  return [
    ["Caution", run.caution ? `The run ${run.caution}.` : ""],
    ["From", run.start.slice(11, 16)],
    ["To", run.end.slice(11, 16)],
    ["Distance", quantity(run.distance_m, units.distance, 2)],
    ["Least water", run.least_water_m === null ? "not known" : leastWater(run.least_water_m, units)],
  ];
}

// The lines of other hours stand back; where none is on, all stand back alike.
function dim({ line, rails, dark, middle, marks }, state) {
  const on = !state.water || isOn(state, line);
  rails.setStyle({ opacity: on ? 0.85 : 0 });
  dark.setStyle({ opacity: on ? 1 : DIM });
  middle.setStyle({ opacity: on ? 1 : DIM });
  for (const mark of marks) {
    mark.setOpacity(on ? 1 : 0.75);
    mark.getElement()?.classList.toggle("on", on && Boolean(state.water));
  }
}

function planList(state) {
  const plan = state.data.plan || [];
  document.getElementById("plan-part").hidden = !plan.length;
  if (!plan.length) return;
  document.getElementById("plan-hint").hidden = !state.water;
  const show = () => {
    document.querySelectorAll("#plan .line").forEach((row, i) => {
      const on = state.water && isOn(state, plan[i]);
      row.classList.toggle("on", Boolean(on));
      row.querySelector(".now").textContent = on ? "at this hour" : "";
    });
    if (state.chosenOf("plan")) refillCard();
  };
  const fill = () => {
    document.getElementById("plan").replaceChildren(...plan.map((line) => planRow(state, line)));
    show();
  };
  state.on("units", fill);
  state.on("moment", show);
  state.on("chosen", () => {
    const line = state.chosenOf("plan");
    pressRow("plan", plan, line);
    if (line) openPlanned(state, line);
  });
  fill();
}

function planRow(state, line) {
  const row = make("li");
  const open = button(null, () => state.set({ chosen: { kind: "plan", thing: line } }), "line");
  const name = make("span", `${clock(line.slot[0], state.data.timezone)}  ${line.plan_id}`, "name");
  const passes = `${line.passes} ${line.passes === 1 ? "pass" : "passes"}`;
  const minutes = rounded(line.drift_s / 60);
  const words = `${direction(line.bearing_deg)}, ${minutes} min, ${passes} in ${depthRange(line, state.units)}`;
  open.append(name, make("span", "", "now"), make("span", words, "facts"));
  row.append(open);
  return row;
}

function depthRange(line, units) {
  const low = leastWater(line.depth_min_m, units);
  const high = quantity(line.depth_max_m, units.depth, depthDigits(units.depth));
  return low === high ? low : `${low.split(" ")[0]} to ${high}`;
}

const LEAST_PUSH_MPS = 0.0257; // 0.05 kn, which is 0.0 in print

// The push at the start, and at the end where that differs.
function pushWords(drift, units) {
  const pushed = (mps, deg) => (mps > LEAST_PUSH_MPS ? `${quantity(mps, units.speed, 1)} toward ${direction(deg)}` : "none");
  const [first, last] = [pushed(drift.push_mps, drift.push_deg), pushed(drift.push_end_mps, drift.push_end_deg)];
  return first === last ? first : `${first}, at the end ${last}`;
}

// A small table of what changes from pass to pass.
function passTable(state, line) {
  const { units } = state;
  const grid = make("table", null, "passes");
  const row = (cells, kind) => {
    const made = make("tr");
    for (const cell of cells) made.append(make(kind, cell));
    return made;
  };
  grid.append(make("caption", "Each pass"), row(["at", "min", "toward", "motor", "least", "in band", "fan"], "th"));
  for (const one of passesOf(state, line)) {
    grid.append(row([
      clock(one.slot[0], state.data.timezone), rounded(one.drift_s / 60), direction(one.bearing_deg), pushWords(one, units),
      leastWater(one.depth_min_m, units), share(one.share_in_band), share(one.fan_in_band),
    ], "td"));
  }
  return grid;
}

function openPlanned(state, line) {
  openCard(`${line.plan_id}, ${hours(state, line)}`, (body) => fillCard(state, line, body), () => state.leave(line));
  goTo(state, line.g);
}

function fillCard(state, line, body) {
  if (line.warning) body.append(make("p", line.warning, "warning"));
  body.append(make("p", line.why, "why"));
  const height = state.water ? state.water.height(state.moment) : NaN;
  const tide = Number.isFinite(height) ? height : 0;
  if (state.depths) {
    const when = Number.isFinite(height) ? `Water along ${line.plan_id} at ${clock(state.moment, state.data.timezone)}` : `Charted depth along ${line.plan_id}`;
    body.append(drawProfile(state, line.g.coordinates, when, tide));
  }
  if (state.water && !isOn(state, line)) {
    const row = make("div", null, "row");
    row.append(button(`Set the hour to ${clock(line.slot[0], state.data.timezone)}`, () => state.set({ moment: line.slot[0] })));
    body.append(row);
  }
  body.append(facts(planNumbers(line, state)));
  if (passesOf(state, line).length > 1) body.append(passTable(state, line));
}

function planNumbers(line, state) {
  const { units } = state;
  const [start, end] = [line.g.coordinates[0], line.g.coordinates[line.g.coordinates.length - 1]];
  return [
    ["Start", position(start[1], start[0])],
    ["End", position(end[1], end[0])],
    ["Toward", `${direction(line.bearing_deg)} true, ${quantity(line.distance_m, units.distance, 2)}`],
    ["Each pass", `${rounded(line.drift_s / 60)} min at ${quantity(line.sog_mps, units.speed, 1)}`],
    ["Passes", String(line.passes)],
    ["Motor", pushWords(line, units)],
    ["Water at that time", depthRange(line, units)],
    ["Light", line.light],
    ["Lead", line.lead],
    ["Waves", [line.wave_m ? quantity(line.wave_m, units.depth === "m" ? "m" : "ft", 1) : "", line.sea].filter(Boolean).join(", ")],
    ["In the band", share(line.share_in_band)],
    ["… if water and wind differ", share(line.fan_in_band)],
    ["… and boats stopped", line.fan_boats ? `${line.fan_stopped} of ${line.fan_boats}` : ""],
  ];
}

export { isOn, planLayer, planList, runLayer };
