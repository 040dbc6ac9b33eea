// The one card beside the map: about a line, a section, a drift tried or the fish of the day.
import { make } from "./words.js";

// Too narrow for the list, the map and a card side by side: they lie over each other, as look.css has it.
export function isNarrow() {
  return window.innerWidth < 1000;
}

// What list, buttons and readout cover of the map, as Leaflet takes it; with `below`, room for a card too.
export function covered(below = false) {
  const top = document.getElementById("top").offsetHeight;
  if (isNarrow()) return { topLeft: [20, top + 64], bottomRight: [below ? 80 : 20, below ? window.innerHeight * 0.54 + 80 : 136] };
  return { topLeft: [380, top + 24], bottomRight: [below ? 530 : 170, 64] };
}

// Bring a line into what stays open beside its card.
export function goTo(state, geometry) {
  const { topLeft, bottomRight } = covered(true);
  state.map.fitBounds(L.geoJSON(geometry).getBounds(), { maxZoom: 17, paddingTopLeft: topLeft, paddingBottomRight: bottomRight });
}

// Hand the taps on the map, and the hour, to a card's tool; what it gives hands them back.
export function takeTaps(state, tap, onHour) {
  Object.assign(state, { tap, onHour });
  document.body.classList.add("pointing");
  return () => {
    Object.assign(state, { tap: null, onHour: null });
    document.body.classList.remove("pointing");
  };
}

// Show a card; `fill(body)` puts things into it, and does so again when units or band change.
export function openCard(state, title, fill, onShut = () => {}) {
  if (state.card) state.card.onShut();
  const box = document.getElementById("card");
  const shut = make("button", "Close", "shut-card");
  shut.type = "button";
  shut.addEventListener("click", () => shutCard(state));
  const body = make("div");
  box.replaceChildren(shut, make("h2", title), body);
  box.setAttribute("aria-label", title);
  box.hidden = false;
  box.scrollTop = 0;
  state.card = { fill: () => { body.replaceChildren(); fill(body); }, onShut, from: document.activeElement };
  state.card.fill();
  state.tell?.();
  shut.focus({ preventScroll: true });
  const side = document.getElementById("side");
  if (isNarrow() && !side.classList.contains("shut")) document.getElementById("side-open").click();
}

export function shutCard(state) {
  if (!state.card) return;
  const { onShut, from } = state.card;
  state.card = null;
  document.getElementById("card").hidden = true;
  onShut();
  state.tell?.();
  if (from && from.isConnected) from.focus({ preventScroll: true });
}

export function facts(rows) {
  const list = make("dl");
  for (const [name, value] of rows) {
    if (value !== null && value !== undefined && value !== "") list.append(make("dt", name), make("dd", value));
  }
  return list;
}

export function button(text, act, kind) {
  const made = make("button", text, kind);
  made.type = "button";
  made.addEventListener("click", act);
  return made;
}

// A labelled field of a form; returns the input.
export function field(box, words, attributes, tag = "input") {
  const label = make("label", null, "field");
  const input = make(tag);
  for (const [name, value] of Object.entries(attributes)) input.setAttribute(name, value);
  input.setAttribute("aria-label", words); // a label around a list would take its words in
  label.append(make("span", words), input);
  box.append(label);
  return input;
}

// A box to tick, with its words beside it.
export function tick(words, checked) {
  const label = make("label", null, "tick");
  const input = make("input");
  Object.assign(input, { type: "checkbox", checked });
  label.append(input, make("span", words));
  return { label, input };
}

// A slider with what it says over it.
export function slider(words, attributes, name = words) {
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

export function choice(box, words, options, chosen) {
  const select = field(box, words, {}, "select");
  for (const [value, text] of options) {
    const option = make("option", text);
    option.value = value;
    select.append(option);
  }
  select.value = chosen;
  return select;
}

// The middle of the map that no card or list covers.
export function openMiddle(state) {
  const size = state.map.getSize();
  const card = document.getElementById("card").getBoundingClientRect();
  const top = document.getElementById("top").getBoundingClientRect().bottom;
  const bottom = card.height ? card.top : document.getElementById("readout").getBoundingClientRect().top;
  const [x, y] = isNarrow() ? [size.x / 2, (top + bottom) / 2] : [size.x / 2, size.y / 2];
  return state.map.containerPointToLatLng([x, y]);
}
