// What is said about one thing: short tables of words and numbers, text only.
import { facts, listRow } from "../frame/card.js";
import { rampStops } from "../frame/looks.js";
import { direction, make, quantity, roundedDown, share, span } from "../frame/words.js";

function lineLook(line) {
  // the more often drifted, the more whole the stroke: clear without colour
  const dash = line.drifts === 1 ? "2 7" : line.drifts === 2 ? "10 6" : null;
  return { weight: line.rank === 1 ? 8 : line.rank <= 3 ? 6 : 5, dash };
}

function table(title, rows) {
  const box = make("div", null, "said");
  box.append(make("h3", title), facts(rows));
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

// Rows of a card as its table is described, in order; `own` has the words of some columns, or label and words,
// or null to leave one out.
function described(kind, thing, state, own = {}) {
  return state.data.columns[kind].map(([name, label, form, digits]) => {
    if (!(name in own)) return [label, written(thing[name], form, digits, state)];
    return Array.isArray(own[name]) ? own[name] : [label, own[name]];
  });
}

// What the ranking says of an edge, hump or hole; without one, nothing.
function ranked(feature, state) {
  const doubt = written(feature.uncertainty_m, "depth", 2, state);
  return {
    rank: null,
    uncertainty_m: doubt && feature.doubtful ? `${doubt}: it is lower than that` : doubt,
    doubtful: null,
  };
}

function kindOf(thing) {
  return thing.kind === "hump" ? "Hump" : thing.kind === "hole" ? "Hole" : "Edge";
}

// What is shown of an edge, hump or hole: a ranked one on its card, of another in a popup.
function placeFacts(place, state) {
  const kind = place.kind ? "features" : "edges";
  return facts(described(kind, place, state, { edge_id: null, kind: null, why: null, ...ranked(place, state) }));
}

function edgeCard(edge, state) {
  const box = make("div", null, "said");
  box.append(make("h3", `Edge ${edge.edge_id}`), placeFacts(edge, state));
  return box;
}

function featureCard(feature, state) {
  const box = make("div", null, "said");
  box.append(make("h3", kindOf(feature)), placeFacts(feature, state));
  return box;
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
  const kept = fish.kept === true ? "kept" : fish.kept === false ? "short" : "not known";
  return table(fish.species || "Fish", described("catches", fish, state, { species: null, kept, drift_id: fish.drift_id || "none" }));
}

// A rate with no fish behind it is what the others lead one to expect, not a catch.
function rateFigure(line) {
  const rate = (line.rate ?? 0).toFixed(1);
  return line.kept ? [rate, " kept a rod-hour"] : [`about ${rate}`, " expected"];
}

// `got`: what came of it in the trips and fish that are chosen; null where all are.
function lineRow(line, state, most, got = null) {
  const { kept, short, hours, drifts } = got || { ...line, hours: line.rod_hours };
  const words = `${kept} kept, ${short} short · ${hours.toFixed(1)} h · ${drifts} ${drifts === 1 ? "drift" : "drifts"}`;
  const act = () => state.set({ chosen: { kind: "lines", thing: line } });
  const row = listRow(String(line.rank), line.line, rateFigure(line), got ? `Of those chosen: ${words}` : words, act, whisker(line, most));
  row.classList.toggle("pale", line.rod_hours < 1);
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
  const [figure] = rateFigure(line);
  const between = `${line.rate_low.toFixed(1)} and ${line.rate_high.toFixed(1)}`;
  const own = { line: null, rank: null, why: null, rod_hours: effort(line), chance_best: chance, rate_low: between, rate_high: null };
  return described("lines", line, state, { ...own, rate: line.kept ? figure : ["Expected a rod-hour", figure] });
}

// Steps of the rate's colours, each with the rate at which it begins.
function rateSteps(state) {
  const stops = rampStops(state.view, "rate");
  const most = Math.max(0, ...(state.data.lines || []).map((line) => line.rate || 0));
  return stops.map((stop, i) => [stop, ((most * i) / stops.length).toFixed(1)]);
}

export {
  catchCard, described, driftCard, edgeCard, featureCard, kindOf, leastWater, lineLook, lineNumbers, lineRow, pieceCard, placeFacts, rateSteps,
  stretchCard, table,
};
