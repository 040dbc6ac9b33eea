// Fish entered on the map afloat: kept in this browser, saved as a catch log that the command reads.
import { button, choice, field, openCard, refillCard } from "../frame/card.js";
import { fishMark } from "../bottom/overlays.js";
import { clock } from "../bottom/water.js";
import { make, position } from "../frame/words.js";

const HEADER = "time,species,length,kept,rod,note,latitude,longitude";
const TALLY = "seabed tally ";

let tallyMarks = null;
let unkept = []; // fish of this visit, where the browser keeps nothing
let keeps = true;
let lastSpecies = "";

// A map made again of the same data has the same key, whatever its name.
function keyOf(state) {
  return TALLY + state.data.key;
}

function storedTally(key) {
  const fish = JSON.parse(localStorage.getItem(key) || "[]");
  return Array.isArray(fish) ? fish : [];
}

function readTally(state) {
  try {
    return storedTally(keyOf(state));
  } catch {
    return unkept; // no store in this browser: kept until the page is left
  }
}

// Tallies of other maps in this browser: of an earlier trip, or of this water before it was computed again.
function otherTallies(state) {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(TALLY) && key !== keyOf(state) && storedTally(key).length);
  } catch {
    return [];
  }
}

function moveHere(state, keys) {
  const fish = [...keys.flatMap(storedTally), ...readTally(state)].sort((a, b) => a.time.localeCompare(b.time));
  keep(state, fish);
  if (keeps) for (const key of keys) localStorage.removeItem(key);
}

function keep(state, fish) {
  unkept = fish;
  try {
    localStorage.setItem(keyOf(state), JSON.stringify(fish));
    keeps = true;
  } catch {
    keeps = false;
  }
}

function cell(text) {
  const said = text === null || text === undefined ? "" : String(text);
  return /[",\n\r]/.test(said) ? `"${said.replaceAll('"', '""')}"` : said;
}

// Text that a spreadsheet would run as a formula gets a ' before it; the reader of catch logs takes it off.
function words(text) {
  const said = text === null || text === undefined ? "" : String(text);
  return /^[=+\-@\t\r]/.test(said) ? `'${said}` : said;
}

function tallyCsv(fish) {
  const rows = fish.map((one) => [
    one.time, words(one.species), one.length ? `${one.length} ${one.unit}` : "", one.kept ? "yes" : "no", "", words(one.note),
    one.place ? one.place[0].toFixed(6) : "", one.place ? one.place[1].toFixed(6) : "",
  ].map(cell).join(","));
  return `${[HEADER, ...rows].join("\n")}\n`;
}

function save(state) {
  const link = make("a");
  link.href = URL.createObjectURL(new Blob([tallyCsv(readTally(state))], { type: "text/csv" }));
  link.download = `catches_${new Date().toISOString().slice(0, 10)}.csv`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function drawTally(state) {
  tallyMarks = tallyMarks || L.layerGroup().addTo(state.map);
  tallyMarks.clearLayers();
  for (const one of readTally(state)) {
    if (!one.place) continue;
    fishMark(state, one.place, one.kept).bindPopup(() => make("p", `${one.species}, ${one.kept ? "kept" : "short"}`)).addTo(tallyMarks);
  }
}

function openTally(state) {
  const told = [...(state.data.catches || []), ...readTally(state)].map((row) => row.species);
  const names = new Set([...state.data.species, ...told].filter(Boolean));
  let species = lastSpecies || [...names][0] || "";
  let length = "";
  openCard("Fish", (body) => {
    if (names.size) {
      const options = [...[...names].map((name) => [name, name]), ["", "Another"]];
      const chosen = choice(body, "Species", options, names.has(species) ? species : "");
      chosen.addEventListener("change", () => { species = chosen.value; refillCard(); });
    }
    if (!names.has(species)) {
      const typed = field(body, "Name of the species", { type: "text" });
      typed.value = species;
      typed.addEventListener("input", () => { species = typed.value; });
    }
    const unit = state.units.fish[0];
    const long = field(body, `Length, ${unit} (may stay empty)`, { type: "number", min: "0", step: "0.1", inputmode: "decimal" });
    long.value = length;
    long.addEventListener("input", () => { length = long.value; });
    const add = (kept) => {
      const place = state.own ? [state.own.lat, state.own.lng] : null;
      const name = species.trim();
      const one = { time: new Date().toISOString().slice(0, 19) + "Z", species: name, length: Number(length) || null, unit, kept, note: "", place };
      keep(state, [...readTally(state), one]);
      if (name) names.add(name);
      lastSpecies = name;
      length = "";
      drawTally(state);
      refillCard();
    };
    const row = make("div", null, "row wide");
    row.append(button("Kept", () => add(true), "big"), button("Short", () => add(false), "big"));
    body.append(row);
    body.append(make("p", state.own ? "The fish takes your own position." : "The fish has no place: switch on Own place first.", "hint"));
    const others = otherTallies(state);
    if (others.length) {
      const count = others.flatMap(storedTally).length;
      body.append(button(`Move ${count} fish of other maps here`, () => { moveHere(state, others); drawTally(state); refillCard(); }));
    }
    const fish = readTally(state);
    if (!fish.length) return;
    const list = make("ol", null, "tally");
    fish.forEach((one, i) => {
      const item = make("li");
      const at = one.place ? `, ${position(...one.place)}` : "";
      item.append(make("span", `${clock(Date.parse(one.time) / 1000, state.data.timezone, true)}  ${one.species || "fish"}, ${one.kept ? "kept" : "short"}${one.length ? `, ${one.length} ${one.unit}` : ""}${at}`));
      const away = button("Remove", () => {
        keep(state, readTally(state).filter((_, j) => j !== i));
        drawTally(state);
        refillCard();
      });
      away.setAttribute("aria-label", `Remove fish ${i + 1}`);
      item.append(away);
      list.append(item);
    });
    body.append(list, button("Save as a catch log", () => save(state), "big"));
    if (!keeps) body.append(make("p", "This browser keeps nothing: save before you leave the page.", "why"));
  });
}

export { drawTally, openTally, readTally, tallyCsv };
