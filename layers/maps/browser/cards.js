// What is said about one thing: short tables of words and numbers, text only.
import { depthDigits, direction, make, quantity, span } from "./words.js";

export function lineLook(line) {
  // the more often drifted, the more whole the stroke: told without colour
  const dash = line.drifts === 1 ? "2 7" : line.drifts === 2 ? "10 6" : null;
  return { weight: line.rank === 1 ? 8 : line.rank <= 3 ? 6 : 5, dash };
}

export function table(title, rows) {
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

function depth(metres, state) {
  return quantity(metres, state.units.depth, depthDigits(state.units.depth));
}

// What the ranking says of an edge, hump or hole; without one, nothing.
function ranked(feature, state) {
  const doubt = feature.uncertainty_m === null || feature.uncertainty_m === undefined
    ? "" : quantity(feature.uncertainty_m, state.units.depth, 1);
  return [
    ["Look here", feature.rank ? `number ${feature.rank}` : ""],
    ["Grid's own doubt", doubt && (feature.doubtful ? `${doubt}: it is lower than that` : doubt)],
    ["Why", feature.why],
  ];
}

// One name for one thing on map, marks, report and plan: that of the ranking where there is one.
function rankedName(kind, feature, otherwise) {
  return `${kind} ${feature.rank ? `R${feature.rank}` : otherwise}`.trim();
}

export function edgeCard(edge, state) {
  return table(rankedName("Edge", edge, edge.edge_id), [
    ["Top", depth(edge.top_depth_m, state)],
    ["Foot", depth(edge.foot_depth_m, state)],
    ["Drop", `${quantity(edge.drop_m, state.units.depth, 1)} over ${quantity(edge.width_m, state.units.depth)}`],
    ["Steepest", `${(edge.slope_max_deg ?? 0).toFixed(1)}°`],
    ["Deepens toward", direction(edge.faces_deg)],
    ["Length", quantity(edge.length_m, state.units.distance, 2)],
    ["In the band", edge.in_band ? "yes" : "no"],
    ...ranked(edge, state),
  ]);
}

export function featureCard(feature, state) {
  const hump = feature.kind === "hump";
  return table(rankedName(hump ? "Hump" : "Hole", feature, ""), [
    [hump ? "Crest" : "Floor", depth(feature.crest_depth_m, state)],
    [hump ? "Rises" : "Falls", quantity(feature.height_m, state.units.depth, 1)],
    [hump ? "Foot" : "Rim", depth(feature.saddle_depth_m, state)],
    ["Size", `${quantity(feature.long_axis_m, state.units.depth)} by ${quantity(feature.short_axis_m, state.units.depth)}`],
    ["Long axis", direction(feature.bearing_deg)],
    ...ranked(feature, state),
  ]);
}

const KINDS = { run: "Run", drift: "Drift", hold: "Hold", gap: "Gap in the track" };

export function pieceCard(piece, state) {
  return table(KINDS[piece.kind] || piece.kind, [
    ["From", piece.start],
    ["To", piece.end],
    ["Lasted", span(piece.duration_s)],
    ["Distance", quantity(piece.distance_m, state.units.distance, 2)],
    ["Speed", quantity(piece.sog_mps, state.units.speed, 1)],
    ["Course", direction(piece.course_deg)],
  ]);
}

export function driftCard(drift, state) {
  const fish = state.only.fishOf.get(drift.drift_id) || [];
  const kept = fish.filter((one) => one.kept === true).length;
  const speed = quantity(drift.sog_mps, state.units.speed, 1);
  return table(`Drift ${drift.drift_id}`, [
    ["Line", drift.line],
    ["From", drift.start],
    ["Lasted", span(drift.duration_s)],
    ["Stage", drift.stage],
    ["Distance", quantity(drift.distance_m, state.units.distance, 2)],
    ["Speed", `${speed} toward ${direction(drift.course_deg)}`],
    ["Mean depth then", depth(drift.depth_mean_m, state)],
    ["Fish", fish.length ? `${kept} kept, ${fish.length - kept} not` : "none"],
    ["Effort", Number.isFinite(drift.rod_hours) ? `${drift.rod_hours.toFixed(1)} rod-hours` : ""],
  ]);
}

export function stretchCard(stretch, state) {
  const box = table(`Hot stretch of ${stretch.line}`, [
    ["Begins", quantity(stretch.start_m, state.units.distance, 2)],
    ["Ends", quantity(stretch.end_m, state.units.distance, 2)],
    ["Whole line", quantity(stretch.line_length_m, state.units.distance, 2)],
  ]);
  box.append(make("p", stretch.why, "why"));
  return box;
}

export function catchCard(fish, state) {
  const fate = fish.kept === true ? "kept" : fish.kept === false ? "short" : "not said";
  return table(fish.species || "Fish", [
    ["Time", fish.time],
    ["Length", fish.length_m === null ? "" : quantity(fish.length_m, state.units.fish, 1)],
    ["Fate", fate],
    ["Rod", fish.rod],
    ["Drift", fish.drift_id || "none"],
    ["Why none", fish.why],
    ["Note", fish.note],
  ]);
}

// `got`: what came of it in the trips and fish that are chosen; null where all are.
export function lineRow(line, state, most, got = null) {
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
  button.addEventListener("click", () => state.choose(line));
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

export function lineNumbers(line, state) {
  return [
    ["Kept a rod-hour", (line.rate ?? 0).toFixed(1)],
    ["80% sure it is", `${(line.rate_low ?? 0).toFixed(1)} to ${(line.rate_high ?? 0).toFixed(1)}`],
    ["Chance it is the best", `${Math.round((line.chance_best ?? 0) * 100)}%`],
    ["Fish", `${line.kept} kept, ${line.short} short`],
    ["Effort", `${line.rod_hours.toFixed(1)} rod-hours`],
    ["Drifts", `${line.drifts} on ${line.trips} ${line.trips === 1 ? "trip" : "trips"}`],
    ["Runs toward", direction(line.course_deg)],
    ["Length", quantity(line.length_m, state.units.distance, 2)],
    ["Mean depth then", depth(line.depth_mean_m, state)],
  ];
}
