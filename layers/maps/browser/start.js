// Puts the page together.
import { unpackDepths } from "./depths.js";
import { depthColours, drawScale } from "./scale.js";
import {
  bandLayer, catchLayer, contourLayer, edgeLayer, featureLayer, lineLayer, paintDepths, trackLayer,
} from "./overlays.js";
import { lineNumbers, lineRow } from "./cards.js";
import { drawProfile } from "./profile.js";
import { followPointer } from "./readout.js";
import { make } from "./words.js";

const LAYERS = [
  ["Contours", "contours", contourLayer, true],
  ["Band outline", "band", bandLayer, false],
  ["Edges", "edges", edgeLayer, true],
  ["Humps and holes", "features", featureLayer, true],
  ["Runs", "pieces", (state) => trackLayer(state, "run"), false],
  ["Drifts", "pieces", (state) => trackLayer(state, "drift"), true],
  ["Holds", "pieces", (state) => trackLayer(state, "hold"), true],
  ["Gaps", "pieces", (state) => trackLayer(state, "gap"), false],
  ["Lines by rate", "lines", lineLayer, true],
  ["Catches", "catches", catchLayer, true],
];

export async function start(map) {
  const data = JSON.parse(document.getElementById("data").textContent);
  const state = { data, map, units: data.units, band: data.band_m, datum: data.datum, depths: null };
  state.choose = (line) => chooseLine(state, line);
  head(data);
  sideSheet();
  L.control.zoom({ position: "topright" }).addTo(map);
  if (data.depths) {
    state.depths = await unpackDepths(data.depths);
    state.depths.reduced = data.depths.reduced;
    state.colours = depthColours(deepestShown(state));
    state.shading = paintDepths(state).addTo(map);
  }
  drawScale(document.getElementById("scale"), state);
  switches(map, state);
  lineList(state);
  showAll(map, data);
  followPointer(map, state, document.getElementById("readout"));
  map.on("resize", () => map.invalidateSize());
  document.body.dataset.ready = "yes";
  window.seabedMap = state; // for tests, and for the curious
}

// Deep water off the ledge would take all the colours: they end where 2 % of the cells are deeper.
function deepestShown(state) {
  const { numbers, least, step } = state.depths;
  const counts = new Uint32Array(65536);
  let known = 0;
  for (const number of numbers) {
    if (number) {
      counts[number] += 1;
      known += 1;
    }
  }
  let deeper = 0;
  let number = 65535;
  while (number > 1 && deeper + counts[number] < known * 0.01) {
    deeper += counts[number];
    number -= 1;
  }
  return least + (number - 1) * step;
}

function head(data) {
  document.title = data.title;
  document.getElementById("title").textContent = data.title;
  const button = document.getElementById("caution");
  const text = document.getElementById("caution-text");
  button.textContent = data.cautions[0];
  text.textContent = data.cautions[1];
  button.addEventListener("click", () => {
    text.hidden = !text.hidden;
    button.setAttribute("aria-expanded", String(!text.hidden));
  });
}

function sideSheet() {
  const side = document.getElementById("side");
  const button = document.getElementById("side-open");
  const set = (open) => {
    side.classList.toggle("shut", !open);
    button.setAttribute("aria-expanded", String(open));
    button.textContent = open ? "Hide the list" : "Lines and layers";
  };
  button.addEventListener("click", () => set(side.classList.contains("shut")));
  set(window.innerWidth >= 800);
}

function switches(map, state) {
  const box = document.getElementById("shown");
  const add = (name, layer, on) => {
    const label = make("label");
    const input = make("input");
    input.type = "checkbox";
    input.checked = on;
    input.addEventListener("change", () => (input.checked ? layer.addTo(map) : layer.remove()));
    label.append(input, make("span", name));
    box.append(label);
    if (on) layer.addTo(map);
  };
  if (state.shading) add("Depth shading", state.shading, true);
  for (const [name, table, build, on] of LAYERS) {
    if ((state.data[table] || []).length) add(name, build(state), on);
  }
}

function lineList(state) {
  const lines = state.data.lines || [];
  const hint = document.getElementById("lines-hint");
  document.querySelector("#lines-head").parentElement.hidden = !lines.length;
  hint.textContent = "Ranked on the low end of the bar (80%): a lucky fish on few hours does not win.";
  const most = Math.max(1e-6, ...lines.map((line) => line.rate_high));
  document.getElementById("lines").append(...lines.map((line) => lineRow(line, state, most)));
}

function chooseLine(state, line) {
  const card = document.getElementById("card");
  card.replaceChildren();
  const shut = make("button", "Close", "shut-card");
  shut.type = "button";
  shut.addEventListener("click", () => {
    card.hidden = true;
    mark(null);
  });
  card.append(shut, make("h2", `${line.rank}. Line ${line.line}`), make("p", line.why, "why"));
  if (state.depths) card.append(drawProfile(state, line.g.coordinates, `Depth along line ${line.line}`));
  const list = make("dl");
  for (const [name, value] of lineNumbers(line, state)) list.append(make("dt", name), make("dd", value));
  card.append(list);
  card.hidden = false;
  mark(line);
  const narrow = window.innerWidth < 800;
  if (narrow && !document.getElementById("side").classList.contains("shut")) {
    document.getElementById("side-open").click();
  }
  state.map.fitBounds(L.geoJSON(line.g).getBounds(), {
    maxZoom: 17,
    paddingTopLeft: narrow ? [20, 90] : [400, 60],
    paddingBottomRight: narrow ? [20, window.innerHeight * 0.55] : [380, 60],
  });
}

function mark(line) {
  document.querySelectorAll("#lines .line").forEach((button) => {
    const chosen = line !== null && button.querySelector(".name").textContent === line.line;
    button.setAttribute("aria-pressed", String(chosen));
  });
}

function showAll(map, data) {
  const narrow = window.innerWidth < 800;
  const lines = L.featureGroup((data.lines || []).map((line) => L.geoJSON(line.g)));
  const [west, south, east, north] = data.extent;
  const box = lines.getLayers().length ? lines.getBounds().pad(0.25) : L.latLngBounds([south, west], [north, east]);
  map.fitBounds(box, { paddingTopLeft: narrow ? [10, 70] : [380, 60], paddingBottomRight: narrow ? [10, 110] : [20, 40] });
  L.control.scale({ position: "bottomright", imperial: true, metric: true, maxWidth: 140 }).addTo(map);
}
