// Puts the page together.
import { lastView, ownPlace, viewChoice } from "./afloat.js";
import { bandControl } from "../bottom/bandcontrol.js";
import { bulkTaps } from "../fishing/bulk.js";
import { choice, covered, isNarrow, refillCard, shutCard, tapMap } from "./card.js";
import { breath, webBounds } from "../bottom/depths.js";
import { unpackExpected } from "../bottom/expected.js";
import { hourControl, openDrift } from "../bottom/hour.js";
import { openDoor } from "./frame_door.js";
import { keepLabelsApart } from "./labels.js";
import { lineList } from "../fishing/lines.js";
import { onlyControl } from "../fishing/only.js";
import { glowChosen } from "../bottom/overlays.js";
import { MOST_LISTED, placeList, placesOf } from "../bottom/places.js";
import { planList } from "../fishing/plan.js";
import { followPointer } from "./readout.js";
import { replayControl } from "../fishing/replay.js";
import { depthScale } from "../bottom/scale.js";
import { openSection } from "../bottom/section.js";
import { State } from "./state.js";
import { switches } from "./switches.js";
import { drawTally, openTally } from "../fishing/tally.js";
import { make } from "./words.js";

const UNITS = {
  depth: { ft: 0.3048, m: 1, fm: 1.8288 },
  distance: { nm: 1852, mi: 1609.344, km: 1000, m: 1 },
  speed: { kn: 1852 / 3600, mph: 0.44704, "km/h": 1 / 3.6, "m/s": 1 },
};

const SHEET = { width: 1040, height: 560 }; // pixels of an A4 sheet on its side, less margins and words

async function start(map) {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const data = { ...read("data"), ...read("about") };
  for (const name of ["pieces", "drifts", "catches"]) data[name] = unrolled(data[name]);
  const state = new State(data, map, lastView());
  viewChoice(document.getElementById("view"), state);
  state.on("band view", () => state.picture?.repaint(state.band, state.view)); // before any that reads its colours
  map.options.renderer = L.canvas({ padding: 0.2, tolerance: matchMedia("(hover: none)").matches ? 18 : 6 });
  window.seabedMap = state; // for tests, and for the curious
  head(data);
  sideSheet();
  showAll(map, data);
  L.control.zoom({ position: "bottomright" }).addTo(map);
  await state.picture?.small(state.band);
  lineList(state);
  placeList(state);
  depthScale(document.getElementById("ramp"), document.getElementById("depth-words"), state);
  performance.mark("first picture");
  await breath(); // it is painted now; what follows can wait
  if (data.expected && typeof DecompressionStream !== "undefined") state.set({ expected: await unpackExpected(data.expected) });
  controls(state);
  performance.mark("controls");
  await state.picture?.whole(state.band);
  state.tell("depths");
  performance.mark("whole picture");
  document.body.dataset.ready = "yes";
}

// Long tables come as names and rows.
function unrolled(table) {
  if (!table) return undefined;
  return table.rows.map((row) => Object.fromEntries(table.columns.map((name, i) => [name, row[i]])));
}

function controls(state) {
  const { map } = state;
  state.on("units band", refillCard);
  bulkTaps(map);
  switches(state);
  glowChosen(state);
  keepLabelsApart(map);
  planList(state);
  onlyControl(document.getElementById("only"), state);
  unitChoices(state);
  tools(state);
  bandControl(document.getElementById("band"), state);
  followPointer(state, document.getElementById("readout"));
  hourControl(document.getElementById("hour"), state);
  replayControl(document.getElementById("replay"), state);
  drawTally(state);
  openDoor(state);
  addEventListener("keydown", (event) => event.key === "Escape" && shutCard());
  map.on("click", (event) => tapMap(event.latlng));
}

function unitChoices(state) {
  const box = document.getElementById("units");
  for (const [name, words] of [["depth", "Depths in"], ["distance", "Distances in"], ["speed", "Speeds in"]]) {
    const options = Object.keys(UNITS[name]).map((unit) => [unit, unit]);
    const select = choice(box, words, options, state.units[name][0]);
    select.addEventListener("change", () => {
      state.set({ units: { ...state.units, [name]: [select.value, UNITS[name][select.value]] } });
    });
  }
}

function tools(state) {
  document.getElementById("tool-section").addEventListener("click", () => openSection(state));
  document.getElementById("tool-fish").addEventListener("click", () => openTally(state));
  ownPlace(state, document.getElementById("tool-place"));
  const drift = document.getElementById("tool-drift");
  drift.hidden = !(state.water && state.water.east_mps);
  drift.addEventListener("click", () => openDrift(state));
}

// What could hurt, before the title: the worst in full, the others behind a button.
function warn({ beyond, warnings }) {
  const [first, ...others] = [beyond, ...(warnings || [])].filter(Boolean);
  const band = document.getElementById("warning");
  band.hidden = !first;
  if (!first) return;
  band.classList.toggle("beyond", Boolean(beyond));
  document.getElementById("warning-first").textContent = first;
  const list = document.getElementById("warning-others");
  list.replaceChildren(...others.map((words) => make("li", words)));
  const more = document.getElementById("warning-more");
  more.hidden = !others.length;
  more.textContent = others.length === 1 ? "and 1 more warning" : `and ${others.length} more warnings`;
  more.addEventListener("click", () => {
    list.hidden = !list.hidden;
    more.setAttribute("aria-expanded", String(!list.hidden));
  });
}

// Which trips the map shows, and when it was made.
function aboutWords({ pieces, drifts, catches, made }) {
  const days = [...(pieces || []), ...(drifts || [])].map((row) => row.start).concat((catches || []).map((row) => row.time))
    .filter(Boolean).map((text) => text.slice(0, 10)).sort();
  const words = (day) => new Date(`${day}T00:00Z`).toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });
  const [first, last] = [days[0], days[days.length - 1]];
  const count = new Set(days).size;
  const from = count && first.slice(0, 4) === last.slice(0, 4) ? words(first).slice(0, -5) : count && words(first);
  const trips = !count ? "" : count === 1 ? `Trip of ${words(first)}` : `${count} trip days, ${from} to ${words(last)}`;
  const when = made ? `${trips ? "map" : "Map"} made ${words(made.slice(0, 10))}, ${made.slice(11)}` : "";
  return [trips, when].filter(Boolean).join(" · ");
}

function head(data) {
  document.title = data.title;
  document.getElementById("title").textContent = data.title;
  document.getElementById("about-map").textContent = aboutWords(data);
  warn(data);
  const button = document.getElementById("caution");
  const text = document.getElementById("caution-text");
  button.textContent = data.cautions[0];
  text.textContent = data.cautions[1];
  button.addEventListener("click", () => {
    text.hidden = !text.hidden;
    button.setAttribute("aria-expanded", String(!text.hidden));
  });
  // everything below starts under the header, however many lines it takes, and above the foot
  for (const [id, name] of [["top", "--top-height"], ["foot", "--foot-height"]]) {
    const part = document.getElementById(id);
    const tell = () => document.documentElement.style.setProperty(name, `${part.offsetHeight}px`);
    new ResizeObserver(tell).observe(part);
    tell();
  }
  const sheet = () => {
    // printed as it stands, shrunk to the sheet: canvases drawn again while printing hide what is below
    const [width, height] = [window.innerWidth, window.innerHeight];
    const shrink = Math.min(SHEET.width / width, SHEET.height / height);
    for (const [name, value] of [["width", `${width}px`], ["height", `${height}px`], ["shrink", shrink]]) {
      document.documentElement.style.setProperty(`--print-${name}`, value);
    }
  };
  sheet();
  addEventListener("resize", sheet);
}

function sideSheet() {
  const side = document.getElementById("side");
  const button = document.getElementById("side-open");
  const set = (open) => {
    side.classList.toggle("shut", !open);
    button.setAttribute("aria-expanded", String(open));
  };
  button.addEventListener("click", () => set(side.classList.contains("shut")));
  set(!isNarrow());
  // a shade at the end of the list while there is more of it
  const body = document.getElementById("side-body");
  const cue = () => side.classList.toggle("more", body.scrollTop + body.clientHeight < body.scrollHeight - 8);
  body.addEventListener("scroll", cue);
  const watch = new ResizeObserver(cue);
  for (const part of [body, ...body.children]) watch.observe(part);
}

// At first: the lines and plans, else where was fished, else the places to look, else what was surveyed.
// A frame that was hidden while it loaded has no room yet: then once it has.
function showAll(map, data) {
  fit(map, data);
  if (!hasRoom(map)) {
    const again = () => { if (hasRoom(map)) { map.off("resize", again); setTimeout(fit, SETTLED_MS, map, data); } };
    map.on("resize", again);
  }
  L.control.scale({ position: "bottomright", imperial: true, metric: true, maxWidth: isNarrow() ? 90 : 140 }).addTo(map);
}

const SETTLED_MS = 100; // bars have their height by then

function hasRoom(map) {
  const { topLeft, bottomRight } = covered();
  const { x, y } = map.getSize();
  return x > topLeft[0] + bottomRight[0] && y > topLeft[1] + bottomRight[1];
}

function fit(map, data) {
  const { topLeft, bottomRight } = covered();
  map.options.zoomSnap = 0; // as near as it fits
  map.fitBounds(boxAtFirst(data), { maxZoom: 19, animate: false, paddingTopLeft: topLeft, paddingBottomRight: bottomRight });
  map.options.zoomSnap = 0.25;
}

function boxAtFirst(data) {
  const fished = (data.pieces || []).filter((row) => row.kind === "drift");
  for (const rows of [[...(data.lines || []), ...(data.plan || [])], data.drifts || fished, data.catches || []]) {
    const shapes = rows.filter((row) => row.g).map((row) => L.geoJSON(row.g).getBounds());
    if (shapes.length) return shapes.reduce((box, one) => box.extend(one), L.latLngBounds(shapes[0])).pad(0.12);
  }
  const places = placesOf(data).slice(0, MOST_LISTED).map(({ at }) => [at[1], at[0]]);
  if (places.length > 1) return L.latLngBounds(places).pad(0.15);
  if (data.depths?.surveyed) return webBounds(...data.depths.surveyed);
  const [west, south, east, north] = data.extent;
  return L.latLngBounds([south, west], [north, east]);
}

export { start };
