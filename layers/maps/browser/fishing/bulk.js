// Thousands of tracks or fish in one canvas: moved with the map while it is dragged, drawn again when
// it rests, thinned to what can be told apart at that zoom.
import { tapsTaken } from "../frame/card.js";
import { mercatorX, mercatorY } from "../bottom/depths.js";
import { popupLook } from "../bottom/overlays.js";

const HALF = Math.PI * 6378137; // half the width of the world in web Mercator
const BATCH = 300; // lines to a stroke
const APART = 1.5; // pixels between vertices drawn
const SAME_PLACE = 3; // pixels within which one fish stands for many
const SAME_ENDS = 5; // pixels within which both ends of a track lie when one stands for many

// A row of a table with its places as metres of web Mercator, one after another, and their box.
function placed(row) {
  if (!row.g) return null;
  const { type, coordinates } = row.g;
  const every = type === "Point" ? [coordinates] : type === "MultiLineString" ? coordinates.flat() : coordinates;
  const xy = new Float64Array(every.length * 2);
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  every.forEach(([longitude, latitude], i) => {
    const [x, y] = [mercatorX(longitude), mercatorY(latitude)];
    [xy[2 * i], xy[2 * i + 1]] = [x, y];
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  });
  return { row, xy, box };
}

// `items` as `placed` gives them; `style(row)` names one of `looks`; `about(row)` fills a popup.
const Bulk = L.Renderer.extend({
  initialize(items, { looks, style, about, wanted, marks = false }) {
    L.Renderer.prototype.initialize.call(this, { padding: 0.4, pane: marks ? "fish" : "tracks" });
    Object.assign(this, { items, looks, style, about, wanted, marks });
  },

  onAdd(map) {
    onMap.add(this);
    return L.Renderer.prototype.onAdd.call(this, map);
  },

  onRemove(map) {
    onMap.delete(this);
    return L.Renderer.prototype.onRemove.call(this, map);
  },

  _initContainer() {
    this._container = document.createElement("canvas");
    this._context = this._container.getContext("2d");
  },

  _destroyContainer() {
    this._container.remove();
    this._container = null;
  },

  _update() {
    if (this._map._animatingZoom && this._bounds) return;
    L.Renderer.prototype._update.call(this);
    const size = this._bounds.getSize();
    const sharp = L.Browser.retina ? 2 : 1;
    L.DomUtil.setPosition(this._container, this._bounds.min);
    Object.assign(this._container, { width: size.x * sharp, height: size.y * sharp });
    Object.assign(this._container.style, { width: `${size.x}px`, height: `${size.y}px` });
    this._context.scale(sharp, sharp);
    this._context.translate(-this._bounds.min.x, -this._bounds.min.y);
    this.draw();
  },

  // Draw again what is wanted now.
  redraw() {
    if (this._map) this._update();
  },

  // Pixels of the map's layers from metres: x * scale + left, top - y * scale.
  turn() {
    const scale = this._map.options.crs.scale(this._map.getZoom()) / (2 * HALF);
    const origin = this._map.getPixelOrigin();
    return { scale, left: HALF * scale - origin.x, top: HALF * scale - origin.y };
  },

  draw() {
    const began = performance.now();
    const { scale, left, top } = this.turn();
    const { min, max } = this._bounds;
    const seen = [(min.x - left) / scale, (top - max.y) / scale, (max.x - left) / scale, (top - min.y) / scale];
    this.shown = this.items.filter((item) => this.wanted(item.row));
    const inView = this.shown.filter(({ box }) => box[0] <= seen[2] && box[2] >= seen[0] && box[1] <= seen[3] && box[3] >= seen[1]);
    if (this.marks) this.drawMarks(inView);
    else this.drawLines(inView);
    this.drawMs = performance.now() - began;
  },

  drawLines(items) {
    const context = this._context;
    const turn = this.turn();
    this.drawn = 0;
    for (const [name, look] of Object.entries(this.looks)) {
      const own = this.toldApart(items.filter((item) => this.style(item.row) === name), turn);
      this.drawn += own.length;
      const paths = [];
      for (let from = 0; from < own.length; from += BATCH) {
        const path = new Path2D();
        for (const item of own.slice(from, from + BATCH)) this.trace(path, item, turn);
        paths.push(path);
      }
      Object.assign(context, { lineCap: "round", lineJoin: "round" });
      const dash = look.dashArray ? look.dashArray.split(" ").map(Number) : [];
      for (const [strokeStyle, lineWidth, globalAlpha, dashes] of [[look.casing, look.weight + 2.5, 0.8, []], [look.color, look.weight, 1, dash]]) {
        Object.assign(context, { strokeStyle, lineWidth, globalAlpha });
        context.setLineDash(dashes);
        for (const path of paths) context.stroke(path);
      }
    }
  },

  // Of tracks that begin in one place and end in another, one: at this zoom they look the same.
  toldApart(items, { scale, left, top }) {
    const taken = new Set();
    const cell = (metres, from) => Math.round((metres * scale + from) / SAME_ENDS) & 0xfff;
    return items.filter(({ xy }) => {
      const last = xy.length - 2;
      const key = (cell(xy[0], left) * 4096 + cell(xy[1], top)) * 16777216 + cell(xy[last], left) * 4096 + cell(xy[last + 1], top);
      return !taken.has(key) && taken.add(key);
    });
  },

  trace(path, { xy }, { scale, left, top }) {
    let [x, y] = [xy[0] * scale + left, top - xy[1] * scale];
    path.moveTo(x, y);
    const last = xy.length - 2;
    for (let i = 2; i <= last; i += 2) {
      const [nextX, nextY] = [xy[i] * scale + left, top - xy[i + 1] * scale];
      if (i < last && Math.abs(nextX - x) + Math.abs(nextY - y) < APART) continue;
      path.lineTo(nextX, nextY);
      [x, y] = [nextX, nextY];
    }
  },

  drawMarks(items) {
    const { scale, left, top } = this.turn();
    const context = this._context;
    const taken = new Set();
    context.setLineDash([]);
    const share = Math.min(1, Math.max(0.45, (this._map.getZoom() - 10) / 5)); // smaller from afar
    for (const item of items) {
      const [x, y] = [item.xy[0] * scale + left, top - item.xy[1] * scale];
      const look = this.looks[this.style(item.row)];
      const place = `${look.radius} ${Math.round(x / SAME_PLACE)} ${Math.round(y / SAME_PLACE)}`;
      if (taken.has(place)) continue;
      taken.add(place);
      Object.assign(context, { strokeStyle: look.color, lineWidth: look.weight, fillStyle: look.fill, globalAlpha: 1 });
      context.beginPath();
      context.arc(x, y, look.radius * share, 0, 2 * Math.PI);
      context.fill();
      context.stroke();
    }
  },

  // The nearest of what is drawn, within some pixels of a place; null if there is none.
  nearest(latlng, pixels) {
    const { scale } = this.turn();
    const [x, y, reach] = [mercatorX(latlng.lng), mercatorY(latlng.lat), pixels / scale];
    let [found, least] = [null, reach];
    for (const item of this.shown || []) {
      const { box, xy } = item;
      if (x < box[0] - reach || x > box[2] + reach || y < box[1] - reach || y > box[3] + reach) continue;
      const away = awayFrom(xy, x, y);
      if (away < least) [found, least] = [item, away];
    }
    return found;
  },
});

function awayFrom(xy, x, y) {
  if (xy.length === 2) return Math.hypot(xy[0] - x, xy[1] - y);
  let least = Infinity;
  for (let i = 2; i < xy.length; i += 2) {
    const [legX, legY] = [xy[i] - xy[i - 2], xy[i + 1] - xy[i - 1]];
    const square = legX * legX + legY * legY;
    const share = square ? Math.min(1, Math.max(0, ((x - xy[i - 2]) * legX + (y - xy[i - 1]) * legY) / square)) : 0;
    least = Math.min(least, Math.hypot(xy[i - 2] + share * legX - x, xy[i - 1] + share * legY - y));
  }
  return least;
}

const onMap = new Set(); // layers of tracks and fish, the last added on top

function bulkLayers() {
  return [...onMap];
}

// One ear for all of them: the topmost that is near a tap tells about itself.
function bulkTaps(map) {
  // tracks under the ranked lines, fish over them
  for (const [pane, zIndex] of [["tracks", 390], ["fish", 450]]) {
    Object.assign(map.createPane(pane).style, { zIndex, pointerEvents: "none" });
  }
  const hit = (latlng) => {
    const pixels = matchMedia("(hover: none)").matches ? 22 : 10;
    for (const layer of bulkLayers().reverse()) {
      const found = layer.nearest(latlng, pixels);
      if (found) return [layer, found];
    }
    return null;
  };
  map.on("click", (event) => {
    if (tapsTaken()) return;
    const found = hit(event.latlng);
    if (found) L.popup(popupLook()).setLatLng(event.latlng).setContent(found[0].about(found[1].row)).openOn(map);
  });
  map.on("mousemove", (event) => {
    if (!tapsTaken()) map.getContainer().style.cursor = hit(event.latlng) ? "pointer" : "";
  });
}

export { Bulk, bulkLayers, bulkTaps, placed };
