// The list of ranked lines and the card of one, tied to the map both ways.
import { facts, goTo, openCard, pressRow } from "../frame/card.js";
import { lineNumbers, lineRow } from "./cards.js";
import { drawProfile, metresAlong } from "../bottom/profile.js";
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
      : "Ranked on the rate each line beats with four chances in five: a lucky fish on few hours does not win.";
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

export { lineList };
