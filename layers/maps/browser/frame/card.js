// The one card beside the map: about a line, a section, a drift tried or the fish of the day.
import { make } from "./words.js";

// Too narrow for the list, the map and a card side by side: they are over each other, as look.css has it.
function isNarrow() {
  return window.innerWidth < 1000;
}

// What list, buttons, card and readout cover of the map, as Leaflet takes it.
function covered() {
  const box = (id) => document.getElementById(id).getBoundingClientRect();
  const [top, tools, side, card, foot] = ["top", "tools", "side", "card", "foot"].map(box);
  if (isNarrow()) return { topLeft: [16, top.bottom + 16], bottomRight: [16, window.innerHeight - (card.height ? card.top : tools.top) + 24] };
  return {
    topLeft: [side.width ? side.right + 24 : 24, tools.bottom + 24],
    bottomRight: [card.width ? window.innerWidth - card.left + 24 : 72, foot.height + 24],
  };
}

// Bring a line into what stays open beside its card.
function goTo(state, geometry) {
  const { topLeft, bottomRight } = covered();
  state.map.fitBounds(L.geoJSON(geometry).getBounds(), { maxZoom: 17, paddingTopLeft: topLeft, paddingBottomRight: bottomRight });
}

let tapTool = null;

// Hand the taps on the map to a card's tool, or to none.
function takeTaps(tool) {
  tapTool = tool;
  document.body.classList.toggle("pointing", Boolean(tool));
}

function tapsTaken() {
  return Boolean(tapTool);
}

function tapMap(at) {
  if (tapTool) tapTool(at);
}

let opened = null; // the card: how to fill it, what to do when it shuts, and what had the focus before

// Show a card; `fill(body)` puts things into it, and does so again when units or band change.
function openCard(title, fill, onShut = () => {}) {
  if (opened) opened.onShut();
  const box = document.getElementById("card");
  const shut = make("button", "Close", "shut-card");
  shut.type = "button";
  shut.addEventListener("click", () => shutCard());
  const body = make("div");
  box.replaceChildren(shut, make("h2", title), body);
  box.setAttribute("aria-label", title);
  box.hidden = false;
  box.scrollTop = 0;
  opened = { fill: () => { body.replaceChildren(); fill(body); }, onShut, from: document.activeElement };
  opened.fill();
  if (document.hasFocus()) shut.focus({ preventScroll: true }); // a page around the map keeps its own
  const side = document.getElementById("side");
  if (isNarrow() && !side.classList.contains("shut")) document.getElementById("side-open").click();
}

function refillCard() {
  if (opened) opened.fill();
}

function shutCard() {
  if (!opened) return;
  const { onShut, from } = opened;
  opened = null;
  document.getElementById("card").hidden = true;
  onShut();
  if (from && from.isConnected) from.focus({ preventScroll: true });
}

const WHOLE = 30; // letters that fit beside a name: a value of as many is not broken over lines
const WIDE = 20; // one of more takes the room of both columns, so that other names keep theirs

function facts(rows) {
  const list = make("dl");
  for (const [name, value] of rows) {
    if (value === null || value === undefined || value === "") continue;
    const letters = String(value).length;
    const kind = letters > WHOLE ? "" : letters > WIDE ? "whole wide" : "whole";
    list.append(make("dt", name, kind), make("dd", value, kind));
  }
  return list;
}

// A row of a list beside the map: a badge, a name, a figure with its unit, and words below.
function listRow(badge, name, [figure, unit], words, act, picture = null) {
  const row = make("li");
  const open = button(null, act, "line");
  const number = make("span", figure, "rate");
  number.append(make("small", unit));
  open.append(make("span", badge, "badge"), make("span", name, "name"), number);
  if (picture) open.append(picture);
  open.append(make("span", words, "facts"));
  row.append(open);
  return row;
}

function button(text, act, kind) {
  const made = make("button", text, kind);
  made.type = "button";
  made.addEventListener("click", act);
  return made;
}

// A labelled field of a form; returns the input.
function field(box, words, attributes, tag = "input") {
  const label = make("label", null, "field");
  const input = make(tag);
  for (const [name, value] of Object.entries(attributes)) input.setAttribute(name, value);
  input.setAttribute("aria-label", words); // a label around a list would take its words in
  label.append(make("span", words), input);
  box.append(label);
  return input;
}

// A box to tick, with its words beside it.
function tick(words, checked) {
  const label = make("label", null, "tick");
  const input = make("input");
  Object.assign(input, { type: "checkbox", checked });
  label.append(input, make("span", words));
  return { label, input };
}

// A slider with what it says over it.
function slider(words, attributes, name = words) {
  const label = make("label", null, "slide");
  const input = make("input");
  const told = make("output");
  Object.assign(input, { type: "range", ...attributes });
  input.setAttribute("aria-label", name);
  label.append(make("span", words), told, input);
  const say = (text) => {
    told.textContent = text;
    input.setAttribute("aria-valuetext", text);
  };
  return { label, input, say };
}

function choice(box, words, options, chosen) {
  const select = field(box, words, {}, "select");
  for (const [value, text] of options) {
    const option = make("option", text);
    option.value = value;
    select.append(option);
  }
  select.value = chosen;
  return select;
}

// Rows of a list beside the map: the chosen one is pressed, and in sight.
function pressRow(list, things, chosen) {
  document.querySelectorAll(`#${list} .line`).forEach((row, i) => {
    row.setAttribute("aria-pressed", String(things[i] === chosen));
    if (things[i] === chosen) row.scrollIntoView({ block: "nearest" });
  });
}

// The middle of the map that no card or list covers.
function openMiddle(state) {
  const size = state.map.getSize();
  const card = document.getElementById("card").getBoundingClientRect();
  const top = document.getElementById("top").getBoundingClientRect().bottom;
  const bottom = card.height ? card.top : document.getElementById("tools").getBoundingClientRect().top;
  const [x, y] = isNarrow() ? [size.x / 2, (top + bottom) / 2] : [size.x / 2, size.y / 2];
  return state.map.containerPointToLatLng([x, y]);
}

export { button, choice, covered, facts, field, goTo, isNarrow, listRow, openCard, openMiddle, pressRow, refillCard, shutCard, slider, takeTaps, tapMap, tapsTaken, tick };
