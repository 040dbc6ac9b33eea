// The track from above, its pieces coloured, with fish and the moment; touched, it gives the moment there.
import { part } from "./svg.js";

const EDGE = 30;

export function makeMap(place, trip, choose) {
  const svg = part("svg", { role: "img", "aria-label": place.dataset.label });
  place.append(svg);
  let view = null;

  svg.addEventListener("click", (event) => {
    const own = event.target.dataset.fish;
    if (own !== undefined) { choose({ t: trip.sketch.fish[own].t ?? trip.t, one: Number(own) }); return; }
    const box = svg.getBoundingClientRect();
    const { t, x, y } = trip.sketch.track;
    const away = (at) => (view.x(x[at]) - event.clientX + box.left) ** 2 + (view.y(y[at]) - event.clientY + box.top) ** 2;
    const close = t.reduce((best, _, at) => (away(at) < away(best) ? at : best), 0);
    choose({ t: t[close] });
  });

  return () => {
    const [wide, high] = [Math.max(200, place.clientWidth), Math.max(160, place.clientHeight)];
    svg.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    view = viewOf(trip, wide, high);
    svg.replaceChildren(...picture(trip, view));
  };
}

// All of the track, or so many times closer around the moment.
function viewOf({ sketch, t, zoom }, wide, high) {
  const { x, y } = sketch.track;
  const ends = (values) => [values.reduce((a, b) => Math.min(a, b)), values.reduce((a, b) => Math.max(a, b))];
  const [[west, east], [south, north]] = [ends(x), ends(y)];
  const scale = zoom * Math.min((wide - 2 * EDGE) / (east - west || 1), (high - 2 * EDGE) / (north - south || 1));
  const at = sketch.track.t.findIndex((moment) => moment >= t);
  const centre = zoom === 1 ? [(west + east) / 2, (south + north) / 2] : [x[at], y[at]];
  return { scale, x: (value) => wide / 2 + (value - centre[0]) * scale, y: (value) => high / 2 - (value - centre[1]) * scale };
}

function* picture(trip, view) {
  const { track, pieces, fish } = trip.sketch;
  const place = (at) => `${view.x(track.x[at]).toFixed(1)},${view.y(track.y[at]).toFixed(1)}`;
  let first = 0;
  const names = []; // where one is, none is written over it
  for (const [number, one] of pieces.entries()) {
    while (track.t[first] < one.start) first += 1;
    let last = first;
    while (track.t[last] < one.end) last += 1;
    const points = Array.from({ length: last - first + 1 }, (_, at) => place(first + at)).join(" ");
    if (number === trip.piece) yield part("polyline", { class: "under", points });
    yield part("polyline", { class: `way ${one.kind}`, points });
    if (one.name !== "") {
      const [x, y] = [view.x(track.x[first]), view.y(track.y[first])];
      if (names.some(([left, top]) => Math.abs(left - x) < 30 && Math.abs(top - y) < 18)) continue;
      names.push([x, y]);
      yield Object.assign(part("text", { x: x + 6, y: y - 6 }), { textContent: one.name.split(" ").at(-1) });
    }
  }
  for (const [number, one] of fish.entries()) {
    if (one.x === null) continue;
    yield part("circle", { class: `fish${number === trip.fish ? " chosen" : ""}${one.kept ? "" : " short"}`, cx: view.x(one.x), cy: view.y(one.y), r: 7, "data-fish": number });
  }
  const at = track.t.findIndex((moment) => moment >= trip.t);
  yield part("circle", { class: "moment", cx: view.x(track.x[at]), cy: view.y(track.y[at]), r: 10 });
  yield* bar(view);
}

// A length to measure by.
function* bar(view) {
  const metres = [10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000].findLast((one) => one * view.scale < 140) ?? 10;
  yield part("line", { class: "scale", x1: 12, x2: 12 + metres * view.scale, y1: 14, y2: 14 });
  yield Object.assign(part("text", { x: 12, y: 32 }), { textContent: metres < 1000 ? `${metres} m` : `${metres / 1000} km` });
}
