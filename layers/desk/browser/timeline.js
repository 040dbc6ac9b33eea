// Speed over time as a strip, its pieces coloured; ends of the chosen piece and the moment are dragged or moved by keys.
import { part } from "./svg.js";

const [HEAD, HIGH, FOOT] = [22, 96, 22];
const BETWEEN = 0.02;
const STEP = 10;
const PAUSE = 700;

export function makeTimeline(place, trip, choose, move) {
  const svg = part("svg", { role: "img", "aria-label": place.dataset.label });
  const inner = document.createElement("div");
  inner.className = "strip-inner";
  inner.append(svg);
  place.append(inner);
  const handles = ["from", "to", "cursor"].map((name) => {
    const one = Object.assign(document.createElement("div"), { className: `handle ${name}`, id: `end-${name}`, tabIndex: 0 });
    one.setAttribute("role", "slider");
    one.setAttribute("aria-label", place.dataset[name]);
    inner.append(one);
    return one;
  });
  let pending = null;
  let axis = null;

  svg.addEventListener("click", (event) => {
    const t = nearest(trip.sketch.track.t, axis.time(event.clientX - svg.getBoundingClientRect().left));
    const own = event.target.dataset.fish;
    choose(own === undefined ? { t } : { t: trip.sketch.fish[own].t, one: Number(own) });
  });
  for (const handle of handles) follow(handle);

  // Which end a handle moves, and between which moments; null if there is none to move.
  function range(handle) {
    const { pieces, track } = trip.sketch;
    if (handle === handles[2]) return { number: null, t: trip.t, least: track.t[0], most: track.t.at(-1) };
    if (trip.piece === null) return null;
    const number = trip.piece + (handle === handles[1] ? 1 : 0);
    const [before, after] = [pieces[number - 1], pieces[number]];
    if (before === undefined || after === undefined || before.outing !== after.outing) return null;
    return { number, t: after.start, least: step(track.t, before.start, 1), most: step(track.t, after.end, -1) };
  }

  function follow(handle) {
    let timer = 0;
    const end = () => {
      clearTimeout(timer);
      const done = pending;
      pending = null;
      if (done === null) return;
      if (done.number === null) choose({ t: done.t });
      else if (done.t === done.from) draw();
      else move(done.number, done.t);
    };
    const go = (t) => {
      const own = pending ?? { ...range(handle), from: range(handle)?.t };
      if (own.number === undefined) return;
      const wanted = nearest(trip.sketch.track.t, t);
      pending = { ...own, t: Math.min(Math.max(wanted, own.least), own.most) };
      draw();
    };
    handle.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      handle.focus({ preventScroll: true });
      handle.setPointerCapture(event.pointerId);
    });
    handle.addEventListener("pointermove", (event) => {
      if (handle.hasPointerCapture(event.pointerId)) go(axis.time(event.clientX - svg.getBoundingClientRect().left));
    });
    handle.addEventListener("pointerup", end);
    handle.addEventListener("pointercancel", () => { pending = null; draw(); });
    handle.addEventListener("blur", end);
    handle.addEventListener("keydown", (event) => {
      const ways = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 };
      if (event.key === "Escape") { pending = null; draw(); }
      const way = ways[event.key];
      const own = pending ?? range(handle);
      if (way === undefined || own === null) return;
      event.preventDefault();
      go(step(trip.sketch.track.t, own.t + way * (event.shiftKey ? 6 * STEP : STEP) * (1 - 1e-6), 0, own.t, way));
      clearTimeout(timer);
      timer = setTimeout(end, handle === handles[2] ? 0 : PAUSE);
    });
  }

  function draw(centred = false) {
    const wide = Math.max(280, place.clientWidth) * trip.zoom;
    axis = axisOf(trip.sketch.pieces, wide);
    svg.setAttribute("viewBox", `0 0 ${wide} ${HEAD + HIGH + FOOT}`);
    svg.setAttribute("width", wide);
    svg.setAttribute("height", HEAD + HIGH + FOOT);
    inner.style.width = `${wide}px`;
    const moved = trip.sketch.pieces.map((one, number) => ({
      ...one,
      start: pending?.number === number ? pending.t : one.start,
      end: pending !== null && pending.number === number + 1 ? pending.t : one.end,
    }));
    svg.replaceChildren(...picture(trip, moved, axis, wide));
    for (const handle of handles) {
      const own = range(handle);
      handle.hidden = own === null;
      if (own === null) continue;
      const t = pending !== null && pending.number === own.number ? pending.t : own.t;
      handle.style.left = `${axis.x(t)}px`;
      const values = { valuemin: own.least, valuemax: own.most, valuenow: t, valuetext: trip.clock(t) };
      for (const [name, value] of Object.entries(values)) handle.setAttribute(`aria-${name}`, value);
    }
    const x = axis.x(pending?.t ?? trip.t);
    if (centred || x < place.scrollLeft || x > place.scrollLeft + place.clientWidth) place.scrollLeft = x - place.clientWidth / 2;
  }
  return draw;
}

function* marks(trip, moved, axis) {
  for (const [number, one] of moved.entries()) {
    const [left, right] = [axis.x(one.start), axis.x(one.end)];
    yield part("rect", { class: `piece ${one.kind}${number === trip.piece ? " chosen" : ""}`, x: left, width: Math.max(1, right - left), y: HEAD, height: HIGH });
    if (one.kind !== "run" && right - left > 34 && left + right > 140) {
      const label = one.name === "" ? document.querySelector(`#kind-${one.kind}`).dataset.word : one.name.split(" ").at(-1);
      yield text((left + right) / 2, HEAD - 7, label, "middle");
    }
  }
}

function* picture(trip, moved, axis, wide) {
  yield* marks(trip, moved, axis);
  const { t, v } = trip.sketch.track;
  const most = Math.max(1, ...v);
  const y = (speed) => HEAD + HIGH - Math.sqrt(speed / most) * (HIGH - 6);
  for (const { from, to } of axis.outings) {
    const own = t.flatMap((moment, at) => (moment < from || moment > to ? [] : [`${axis.x(moment).toFixed(1)},${y(v[at]).toFixed(1)}`]));
    yield part("polyline", { class: "speed", points: own.join(" ") });
  }
  yield text(2, HEAD - 7, `${Math.round(most)} ${trip.sketch.speed_unit}`, "start");
  const every = [60, 300, 600, 900, 1800, 3600, 7200, 10800, 21600].find((one) => axis.wide(one) > 64) ?? 43200;
  let free = 0; // outings side by side may begin at hours close together
  for (const { from, to } of axis.outings) {
    for (let moment = Math.ceil(from / every) * every; moment <= to; moment += every) {
      yield part("line", { class: "hour", x1: axis.x(moment), x2: axis.x(moment), y1: HEAD, y2: HEAD + HIGH + 4 });
      const x = axis.x(moment);
      if (x < free) continue;
      free = x + 52;
      yield text(x, HEAD + HIGH + 18, trip.clock(moment).slice(0, 5), x < 20 ? "start" : x > wide - 20 ? "end" : "middle");
    }
  }
  for (const [number, one] of trip.sketch.fish.entries()) {
    if (one.t === null || !axis.has(one.t)) continue;
    yield part("circle", { class: `fish${number === trip.fish ? " chosen" : ""}${one.kept ? "" : " short"}`, cx: axis.x(one.t), cy: HEAD + 12, r: 7, "data-fish": number });
  }
}

function text(x, y, words, at) {
  return Object.assign(part("text", { x, y, "text-anchor": at }), { textContent: words });
}

// Outings side by side: the hours between them take no room.
function axisOf(pieces, wide) {
  const outings = [];
  for (const one of pieces) {
    if (outings[one.outing] === undefined) outings[one.outing] = { from: one.start, to: one.end };
    outings[one.outing].to = Math.max(outings[one.outing].to, one.end);
  }
  const own = outings.filter((one) => one !== undefined);
  const whole = own.reduce((sum, one) => sum + one.to - one.from, 0) || 1;
  const scale = (wide * (1 - BETWEEN * (own.length - 1))) / whole;
  let left = 0;
  for (const one of own) {
    one.left = left;
    left += (one.to - one.from) * scale + BETWEEN * wide;
  }
  const x = (t) => {
    const one = own.findLast((each) => each.from <= t) ?? own[0];
    return one.left + (Math.min(Math.max(t, one.from), one.to) - one.from) * scale;
  };
  const time = (at) => {
    const one = own.findLast((each) => each.left <= at) ?? own[0];
    return Math.min(one.from + (at - one.left) / scale, one.to);
  };
  return { x, time, wide: (s) => s * scale, has: (t) => own.some((one) => one.from - 60 <= t && t <= one.to + 60), outings: own };
}

export function nearest(times, t) {
  let [low, high] = [0, times.length - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (times[middle] <= t) low = middle;
    else high = middle;
  }
  return t - times[low] <= times[high] - t ? times[low] : times[high];
}

// The shown moment so many places from another; or, with a `way`, the nearest to `t` beyond `from`.
function step(times, t, places, from = null, way = 1) {
  const close = nearest(times, t);
  if (from === null) return times[times.indexOf(nearest(times, t)) + places];
  if ((close - from) * way > 0) return close;
  return times[Math.min(Math.max(times.indexOf(nearest(times, from)) + way, 0), times.length - 1)];
}
