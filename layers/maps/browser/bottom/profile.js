// A depth profile along a line, drawn as a picture of the water in section.
import { depthDigits, make, part, quantity } from "../frame/words.js";

const SIZE = { width: 320, height: 120, left: 34, right: 6, top: 8, bottom: 22 };

function metresBetween(a, b) {
  const radians = Math.PI / 180;
  const middle = ((a[1] + b[1]) / 2) * radians;
  const east = (b[0] - a[0]) * radians * Math.cos(middle);
  return Math.hypot(east, (b[1] - a[1]) * radians) * 6371008.8;
}

// Depths every few metres along coordinates [[lon, lat], …]: [{metres, depth}, …].
function depthsAlong(depths, coordinates, every = 4) {
  const out = [];
  let gone = 0;
  for (let i = 1; i < coordinates.length; i += 1) {
    const [a, b] = [coordinates[i - 1], coordinates[i]];
    const length = metresBetween(a, b);
    const steps = Math.max(1, Math.round(length / every));
    for (let j = i === 1 ? 0 : 1; j <= steps; j += 1) {
      const share = j / steps;
      const place = [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share];
      out.push({ metres: gone + length * share, depth: depths.depth(place[1], place[0]) });
    }
    gone += length;
  }
  return out;
}

// How far along coordinates the place nearest to each of `places` lies, in metres.
function metresAlong(coordinates, places) {
  return places.map((place) => {
    const scale = Math.cos((place[1] * Math.PI) / 180);
    let [gone, nearest, at] = [0, Infinity, 0];
    for (let i = 1; i < coordinates.length; i += 1) {
      const [a, b] = [coordinates[i - 1], coordinates[i]];
      const [from, to, here] = [a, b, place].map(([x, y]) => L.point(x * scale, y));
      const foot = L.LineUtil.closestPointOnSegment(here, from, to);
      const [away, leg] = [here.distanceTo(foot), from.distanceTo(to)];
      const length = metresBetween(a, b);
      if (away < nearest) [nearest, at] = [away, gone + (leg ? from.distanceTo(foot) / leg : 0) * length];
      gone += length;
    }
    return at;
  });
}

// Charted depths along a line, with `tide` metres on top.
// `fish`: metres along it where fish came, a tick each.
function drawProfile(state, coordinates, words, tide = 0, fish = []) {
  const points = depthsAlong(state.depths, coordinates).map((p) => ({ ...p, depth: p.depth + tide }));
  const band = state.band && state.band.map((metres) => metres + tide);
  return sectionPicture(state, points, words, band, fish);
}

// The bottom in section through points [{metres, depth}, …]; `band` in metres of water, or null.
function sectionPicture(state, every, words, band = null, fish = []) {
  const figure = make("figure", null, "profile");
  const points = every.filter((p) => Number.isFinite(p.depth));
  if (points.length < 2) {
    figure.append(make("figcaption", "No depths along it."));
    return figure;
  }
  const unit = state.units.depth;
  const shown = points.map((p) => p.depth);
  const low = Math.min(...shown, band ? band[0] : Infinity);
  const high = Math.max(...shown, band ? band[1] : -Infinity);
  const room = Math.max(high - low, 0.5) * 0.12;
  const [top, bottom] = [Math.max(0, low - room), high + room];
  const length = points[points.length - 1].metres;
  const x = (metres) => SIZE.left + (metres / length) * (SIZE.width - SIZE.left - SIZE.right);
  const y = (depth) => SIZE.top + ((depth - top) / (bottom - top)) * (SIZE.height - SIZE.top - SIZE.bottom);
  const picture = part("svg", { viewBox: `0 0 ${SIZE.width} ${SIZE.height}`, role: "img" });
  picture.setAttribute("aria-label", words);
  if (band) {
    picture.append(part("rect", {
      class: "in-band", x: SIZE.left, width: SIZE.width - SIZE.left - SIZE.right,
      y: y(band[0]), height: Math.max(0, y(band[1]) - y(band[0])),
    }));
  }
  const path = points.map((p) => `${x(p.metres).toFixed(1)},${y(p.depth).toFixed(1)}`).join(" L");
  const bandEnds = (band || []).map((depth) => y(depth).toFixed(1));
  const floor = SIZE.height - SIZE.bottom;
  picture.append(part("path", { class: "ground", d: `M${path} L${x(length)},${floor} L${x(0)},${floor} Z` }));
  picture.append(part("path", { class: "bottom-line", d: `M${path}` }));
  for (const at of bandEnds) {
    picture.append(part("line", { class: "band-end", x1: SIZE.left, x2: SIZE.width - SIZE.right, y1: at, y2: at }));
  }
  for (const metres of fish.filter((at) => at <= length)) {
    const at = x(metres).toFixed(1);
    picture.append(part("line", { class: "fish-here", x1: at, x2: at, y1: SIZE.top - 6, y2: SIZE.top + 6 }));
  }
  for (const depth of [top + room, bottom - room]) {
    const label = part("text", { x: SIZE.left - 4, y: y(depth) + 4, "text-anchor": "end" });
    label.textContent = (depth / unit[1]).toFixed(depthDigits(unit));
    picture.append(label);
  }
  const labels = [[SIZE.left, "start", "start"], [SIZE.width - SIZE.right, "end", quantity(length, state.units.distance, 2)]];
  for (const [at, anchor, text] of labels) {
    const label = part("text", { x: at, y: SIZE.height - 6, "text-anchor": anchor });
    label.textContent = text;
    picture.append(label);
  }
  const told = [`${words}, ${unit[0]}`, band ? "the band between dashed lines" : "", fish.length ? "a tick where each fish came" : ""];
  figure.append(picture, make("figcaption", told.filter(Boolean).join("; ")));
  return figure;
}

export { depthsAlong, drawProfile, metresAlong, metresBetween, sectionPicture };
