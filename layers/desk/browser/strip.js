// Draws the day's tide, current and light as one strip of hours.
import { part } from "./svg.js";

const [TIDE, WATER, FOOT] = [110, 70, 26];

export function followDay(place) {
  const form = place.closest("form") ?? document.querySelector("form[data-day]");
  let asked = 0;
  const ask = async () => {
    const address = new URL(place.dataset.strip, location.href);
    for (const name of ["date", "wind"]) address.searchParams.set(name, form.elements[name].value);
    const mine = ++asked;
    const answer = await fetch(address, { headers: { accept: "application/json" } });
    const day = await answer.json();
    if (mine !== asked) return;
    const words = (kind, text) => Object.assign(document.createElement("p"), { className: kind, textContent: text });
    if (day.wrong !== undefined) place.replaceChildren(words("wrong", day.wrong));
    else place.replaceChildren(draw(day, place.dataset.label, Math.max(300, place.clientWidth)), words("hint", day.words));
  };
  for (const name of ["date", "wind"]) form.elements[name].addEventListener("change", ask);
  ask();
}

function draw(day, label, wide) {
  const svg = part("svg", { viewBox: `0 0 ${wide} ${TIDE + WATER + FOOT}`, role: "img", "aria-label": label });
  const x = (hour) => (hour / 24) * wide;
  for (const [from, to] of [[0, day.sunrise], [day.sunset, 24]]) {
    if (from !== null && to !== null) svg.append(part("rect", { class: "dark", x: x(from), width: Math.max(0, x(to) - x(from)), y: 0, height: TIDE + WATER }));
  }
  for (const one of day.windows) {
    svg.append(part("rect", { class: `window ${one.kind}`, x: x(one.from), width: Math.max(1, x(one.to) - x(one.from)), y: TIDE + WATER - 6, height: 6 }));
  }
  curve(svg, day, x);
  current(svg, day, x);
  for (let hour = 0; hour <= 24; hour += 3) {
    svg.append(part("line", { class: "hour", x1: x(hour), x2: x(hour), y1: 0, y2: TIDE + WATER }));
    svg.append(words(x(hour), TIDE + WATER + 18, `${hour}`, hour === 0 ? "start" : hour === 24 ? "end" : "middle"));
  }
  return svg;
}

function curve(svg, day, x) {
  const known = day.rows.filter((row) => row.height !== null);
  if (known.length < 2) return;
  const heights = known.map((row) => row.height);
  const [least, most] = [Math.min(...heights), Math.max(...heights)];
  const y = (height) => 36 + (TIDE - 72) * (1 - (height - least) / (most - least || 1));
  svg.append(part("polyline", { class: "tide", points: known.map((row) => `${x(row.hour)},${y(row.height)}`).join(" ") }));
  for (const turn of day.turns) {
    const at = y(turn.height) + (turn.high ? -20 : 18);
    svg.append(words(x(turn.hour), at, turn.time, anchor(turn.hour)), words(x(turn.hour), at + 14, turn.words, anchor(turn.hour)));
  }
}

function current(svg, day, x) {
  const most = Math.max(0.01, ...day.rows.map((row) => row.current ?? 0));
  const wide = x(day.every) - 1;
  for (const row of day.rows) {
    if (row.current === null) continue;
    const high = (row.current / most) * (WATER - 22);
    svg.append(part("rect", { class: `water ${row.flood ? "flood" : "ebb"}`, x: x(row.hour), width: wide, y: TIDE + WATER - 8 - high, height: high }));
  }
  for (const event of day.events) {
    if (event.greatest) svg.append(words(x(event.hour), TIDE + 12, event.words, anchor(event.hour)));
  }
}

const anchor = (hour) => (hour < 2 ? "start" : hour > 22 ? "end" : "middle");

function words(x, y, text, at) {
  return Object.assign(part("text", { x, y, "text-anchor": at }), { textContent: text });
}

