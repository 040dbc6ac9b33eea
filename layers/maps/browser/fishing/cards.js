// What is said about one thing: short tables of words and numbers, text only.
import { direction, make, quantity, roundedDown, share, span } from "../frame/words.js";

function lineLook(line) {
  // the more often drifted, the more whole the stroke: told without colour
  const dash = line.drifts === 1 ? "2 7" : line.drifts === 2 ? "10 6" : null;
  return { weight: line.rank === 1 ? 8 : line.rank <= 3 ? 6 : 5, dash };
}

function table(title, rows) {
  const box = make("div", null, "said");
  box.append(make("h3", title));
  const list = make("dl");
  for (const [name, value] of rows) {
    if (value === null || value === undefined || value === "") continue;
    list.append(make("dt", name), make("dd", value));
  }
  box.append(list);
  return box;
}

const FORMS = { depth: "depth", distance: "distance", speed: "speed", fish: "fish" };

// Never more water than there is.
function leastWater(metres, { depth }) {
  return `${roundedDown(metres / depth[1], depth[0] === "ft" ? 0 : 1)} ${depth[0]}`;
}

// A value as people read it, by the form and the decimals (of metres: feet need one less) that its column has.
function written(value, form, digits, state) {
  if (value === null || value === undefined || value === "") return "";
  if (FORMS[form]) {
    const unit = state.units[FORMS[form]];
    return quantity(value, unit, unit[0] === "ft" ? Math.max(digits - 1, 0) : digits);
  }
  if (form === "least depth") return leastWater(value, state.units);
  if (form === "share") return share(value);
  if (form === "span") return span(value);
  if (form === "direction") return direction(value);
  if (form === "angle") return `${value.toFixed(digits)}°`;
  if (form === "truth") return value ? "yes" : "no";
  return typeof value === "number" ? value.toFixed(digits) : value;
}

// Rows of a card as its table is described, in order; `own` has the words of some columns, or null to leave one out.
function described(kind, thing, state, own = {}) {
  return state.data.columns[kind].map(([name, label, form, digits]) =>
    [label, name in own ? own[name] : written(thing[name], form, digits, state)]);
}

// What the ranking says of an edge, hump or hole; without one, nothing.
function ranked(feature, state) {
  const doubt = written(feature.uncertainty_m, "depth", 2, state);
  return {
    rank: feature.rank ? `number ${feature.rank}` : "",
    uncertainty_m: doubt && feature.doubtful ? `${doubt}: it is lower than that` : doubt,
    doubtful: null,
  };
}

// One name for one thing on map, marks, report and plan: that of the ranking where there is one.
function rankedName(kind, feature, otherwise) {
  return `${kind} ${feature.rank ? `R${feature.rank}` : otherwise}`.trim();
}

function edgeCard(edge, state) {
  return table(rankedName("Edge", edge, edge.edge_id), described("edges", edge, state, { edge_id: null, ...ranked(edge, state) }));
}

function featureCard(feature, state) {
  const name = rankedName(feature.kind === "hump" ? "Hump" : "Hole", feature, "");
  return table(name, described("features", feature, state, { kind: null, ...ranked(feature, state) }));
}

const KINDS = { run: "Run", drift: "Drift", hold: "Hold", gap: "Gap in the track" };

function pieceCard(piece, state) {
  return table(KINDS[piece.kind] || piece.kind, described("pieces", piece, state, { kind: null }));
}

function effort(thing) {
  return Number.isFinite(thing.rod_hours) ? `${thing.rod_hours.toFixed(1)} rod-hours` : "";
}

function driftCard(drift, state) {
  const fish = state.only.fishOf.get(drift.drift_id) || [];
  const kept = fish.filter((one) => one.kept === true).length;
  return table(`Drift ${drift.drift_id}`, [
    ...described("drifts", drift, state, { drift_id: null, hours_from_high: null, rod_hours: effort(drift) }),
    ["Fish", fish.length ? `${kept} kept, ${fish.length - kept} not` : "none"],
  ]);
}

function stretchCard(stretch, state) {
  return table(`Hot stretch of ${stretch.line}`, described("stretches", stretch, state, { line: null }));
}

function catchCard(fish, state) {
  const kept = fish.kept === true ? "kept" : fish.kept === false ? "short" : "not said";
  return table(fish.species || "Fish", described("catches", fish, state, { species: null, kept, drift_id: fish.drift_id || "none" }));
}

// `got`: what came of it in the trips and fish that are chosen; null where all are.
function lineRow(line, state, most, got = null) {
  const row = make("li");
  const button = make("button", null, "line");
  button.type = "button";
  button.append(make("span", String(line.rank), "badge"), make("span", line.line, "name"));
  const rate = make("span", (line.rate ?? 0).toFixed(1), "rate");
  rate.append(make("small", " kept a rod-hour"));
  button.append(rate, whisker(line, most));
  const { kept, short, hours, drifts } = got || { ...line, hours: line.rod_hours };
  const words = `${kept} kept, ${short} short · ${hours.toFixed(1)} h · ${drifts} ${drifts === 1 ? "drift" : "drifts"}`;
  button.append(make("span", got ? `Of those chosen: ${words}` : words, "facts"));
  button.addEventListener("click", () => state.set({ chosen: { kind: "lines", thing: line } }));
  row.append(button);
  return row;
}

// The rate and its 80 % interval on one axis for all lines.
function whisker(line, most) {
  const box = make("span", null, "whisker");
  box.setAttribute("aria-label", `80% between ${line.rate_low.toFixed(1)} and ${line.rate_high.toFixed(1)}`);
  box.setAttribute("role", "img");
  const bar = make("i", null, "bar");
  bar.style.left = `${(line.rate_low / most) * 100}%`;
  bar.style.width = `${((line.rate_high - line.rate_low) / most) * 100}%`;
  const dot = make("i", null, "dot");
  dot.style.left = `${(line.rate / most) * 100}%`;
  box.append(bar, dot);
  return box;
}

function lineNumbers(line, state) {
  const chance = `${Math.round((line.chance_best ?? 0) * 100)}%`;
  return described("lines", line, state, { line: null, rank: null, why: null, rod_hours: effort(line), chance_best: chance });
}

export { catchCard, driftCard, edgeCard, featureCard, leastWater, lineLook, lineNumbers, lineRow, pieceCard, stretchCard, table };
