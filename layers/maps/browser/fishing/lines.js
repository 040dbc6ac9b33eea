// The list of ranked lines and the card of one, tied to the map both ways.
import { facts, goTo, openCard, pressRow } from "../frame/card.js";
import { lineLook, lineNumbers, lineRow, stretchCard } from "./cards.js";
import { arrow, behind, shape, sign, tapped } from "../bottom/overlays.js";
import { drawProfile, metresAlong } from "../bottom/profile.js";
import { rateColour } from "../bottom/scale.js";
import { inkLook, markLook } from "../frame/looks.js";
import { make } from "../frame/words.js";

function lineList(state) {
  const lines = state.data.lines || [];
  document.getElementById("lines-part").hidden = !lines.length;
  const most = Math.max(1e-6, ...lines.map((line) => line.rate_high || 0));
  let shown = [];
  const press = () => pressRow("lines", shown, state.chosenOf("lines"));
  const fill = () => {
    const got = new Map(lines.map((line) => [line, state.only.line(line)]));
    shown = lines.filter((line) => got.get(line)?.shown !== false);
    document.getElementById("lines-hint").textContent = state.only.any
      ? `${shown.length} of ${lines.length} lines have drifts among those chosen. Rates and ranks are those of all trips.`
      : "Ranked by rate. Few hours pull a rate toward the average; a line with less than a quarter of a rod-hour ranks by a rate that it very likely beats.";
    document.getElementById("lines").replaceChildren(...shown.map((line) => lineRow(line, state, most, got.get(line))));
    press();
  };
  state.on("only", fill);
  state.on("chosen", () => {
    press();
    const line = state.chosenOf("lines");
    if (line) openLine(state, line);
  });
  fill();
}

function openLine(state, line) {
  openCard(`${line.rank}. Line ${line.line}`, (body) => {
    body.append(make("p", line.why, "why"));
    if (state.depths) {
      const fish = metresAlong(line.g.coordinates, fishOf(state, line));
      body.append(drawProfile(state, line.g.coordinates, `Depth along line ${line.line}`, 0, fish));
    }
    for (const stretch of state.data.stretches || []) {
      if (stretch.line === line.line) body.append(make("p", `Hot stretch: ${stretch.why}`, "why"));
    }
    body.append(facts(lineNumbers(line, state)));
  }, () => state.leave(line));
  goTo(state, line.g);
}

// Places of the fish that came on a line's drifts.
function fishOf(state, line) {
  const own = new Set((state.data.drifts || []).filter((row) => row.line === line.line).map((row) => row.drift_id));
  return (state.data.catches || []).filter((fish) => fish.g && own.has(fish.drift_id)).map((fish) => fish.g.coordinates);
}

// Coloured by rate, in black and that in white: on any depth one of the three stands out.
function lineLayer(state) {
  const group = L.layerGroup();
  const most = Math.max(0, ...(state.data.lines || []).map((line) => line.rate || 0));
  for (const line of [...(state.data.lines || [])].reverse()) {
    if (state.only.line(line)?.shown === false) continue;
    const look = lineLook(line);
    const parts = [[markLook(state.view, "boat").casing, 6], [inkLook(state.view, "black"), 3], [rateColour(state.view, line.rate, most), 0, look.dash]].map(
      ([color, more, dashArray]) => shape(line.g, { color, weight: look.weight + more, dashArray, opacity: 1 }));
    const badge = sign(line.g.coordinates[0], String(line.rank), "rank", { title: `Line ${line.line}, rank ${line.rank}` });
    badge.on("add", () => behind(badge, line.course_deg || 0));
    for (const part of [...parts, badge]) group.addLayer(part.on("click", () => state.set({ chosen: { kind: "lines", thing: line } })));
    group.addLayer(arrow(line.g, line.course_deg));
  }
  return group;
}

// Where a line's fish came: a wide rail of rungs across the line, and the word.
function stretchLayer(state) {
  const group = L.layerGroup();
  const look = { ...markLook(state.view, "stretch"), lineCap: "butt", opacity: 1 };
  for (const stretch of state.data.stretches || []) {
    const about = () => stretchCard(stretch, state);
    const points = stretch.g.coordinates;
    group.addLayer(shape(stretch.g, { color: look.casing, weight: look.weight + 6, opacity: 0.75, lineCap: "butt" }));
    group.addLayer(tapped(shape(stretch.g, look), about));
    const name = `Hot stretch of ${stretch.line}`;
    group.addLayer(tapped(sign(points[Math.floor(points.length / 2)], "hot", "stretch", { alt: name, title: name }), about));
  }
  return group;
}

export { lineLayer, lineList, stretchLayer };
