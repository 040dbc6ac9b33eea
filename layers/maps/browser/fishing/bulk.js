// Thousands of tracks or fish in one canvas: moved with the map while it is dragged, drawn again when
// it rests, thinned to what can be told apart at that zoom.
import { tapsTaken } from "../frame/card.js";
import { breath, mercatorX, mercatorY } from "../bottom/depths.js";
import { popupLook } from "../bottom/overlays.js";

const HALF = Math.PI * 6378137; // half the width of the world in web Mercator
const BATCH = 4000; // numbers of places to a stroke
const FEW = 1000; // and to a piece of work that draws marks
const SLICE = 8; // milliseconds after which the page is let go on
const APART = 1.5; // pixels between vertices drawn
const EDGE = 16; // pixels that a line or mark is drawn beyond its places at most
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

// `items` as `placed` gives them; `style(row)` names one of `looks`; `about(row)` fills a popup, and without it
// nothing of them is tapped.
const Bulk = L.Renderer.extend({
  initialize(items, { looks, style, about = null, wanted = () => true, marks = false, pane = marks ? "fish" : "tracks", thin = true }) {
    L.Renderer.prototype.initialize.call(this, { padding: 0.4, pane });
    Object.assign(this, { items, looks, style, about, wanted, marks, thin, canvas: null });
  },

  onAdd(map) {
    onMap.add(this);
    return L.Renderer.prototype.onAdd.call(this, map);
  },

  onRemove(map) {
    onMap.delete(this);
    this.canvas = null; // what is being drawn is given up
    return L.Renderer.prototype.onRemove.call(this, map);
  },

  _initContainer() {
    this._container = document.createElement("div");
  },

  _destroyContainer() {
    this._container.remove();
    this._container = null;
    this._bounds = null;
  },

  // The map rests: draw, unless what is drawn reaches as far as what is seen.
  _update() {
    const map = this._map;
    if (map._animatingZoom && this._bounds) return;
    const corner = map.containerPointToLayerPoint([0, 0]).round();
    const size = map.getSize();
    if (this._bounds && !this.stale && map.getZoom() === this._zoom && this._bounds.contains(L.bounds(corner, corner.add(size)))) return;
    if (this._bounds) this._updateTransform(map.getCenter(), map.getZoom());
    const room = size.multiplyBy(this.options.padding).round();
    this.drawing = this.draw(L.bounds(corner.subtract(room), corner.add(size).add(room)));
  },

  // A zoom may come while the first picture is still drawn.
  _updateTransform(center, zoom) {
    if (this._center) L.Renderer.prototype._updateTransform.call(this, center, zoom);
  },

  _reset() {
    this.stale = true;
    this._update();
  },

  // Draw again what is wanted now.
  redraw() {
    if (this._map) this._reset();
  },

  // Pixels of the map's layers from metres: x * scale + left, top - y * scale.
  turn() {
    const scale = this._map.options.crs.scale(this._map.getZoom()) / (2 * HALF);
    const origin = this._map.getPixelOrigin();
    return { scale, left: HALF * scale - origin.x, top: HALF * scale - origin.y };
  },

  // Draw on a new canvas in pieces of work that leave the page alive, then put it in the old one's place.
  async draw(bounds) {
    const { scale, left, top } = this.turn();
    const { min, max } = bounds;
    const [center, zoom] = [this._map.getCenter(), this._map.getZoom()];
    const seen = [(min.x - left) / scale, (top - max.y) / scale, (max.x - left) / scale, (top - min.y) / scale];
    this.shown = this.items.filter((item) => this.wanted(item.row));
    const inView = this.shown.filter(({ box }) => box[0] <= seen[2] && box[2] >= seen[0] && box[1] <= seen[3] && box[3] >= seen[1]);
    const canvas = document.createElement("canvas");
    this.canvas = canvas;
    this.stale = false;
    const part = this.reach(inView, bounds);
    const [size, offset] = [part.getSize(), part.min.subtract(min)];
    const sharp = L.Browser.retina ? 2 : 1;
    canvas.width = size.x * sharp;
    canvas.height = size.y * sharp;
    const style = { left: offset.x, top: offset.y, width: size.x, height: size.y };
    for (const [name, pixels] of Object.entries(style)) canvas.style[name] = `${pixels}px`;
    canvas.style.position = "absolute";
    const context = canvas.getContext("2d", { willReadFrequently: true });
    context.scale(sharp, sharp);
    context.translate(-part.min.x, -part.min.y);
    await breath(); // choosing them, and the canvas, was a piece of work
    if (this.canvas !== canvas) return;
    let began = performance.now();
    for (const piece of this.marks ? this.dots(context, inView) : this.strokes(context, inView)) {
      piece();
      if (performance.now() - began < SLICE) continue;
      context.getImageData(0, 0, 1, 1); // what was asked of it is drawn now, not all at the end
      await breath();
      if (this.canvas !== canvas) return; // another has begun since
      began = performance.now();
    }
    Object.assign(this, { _bounds: bounds, _center: center, _zoom: zoom });
    this._container.replaceChildren(canvas);
    L.DomUtil.setPosition(this._container, min);
    if (this._map.getZoom() !== zoom) this._updateTransform(this._map.getCenter(), this._map.getZoom());
  },

  // The part of `bounds` on which something is drawn: the less of it, the quicker and the less memory.
  reach(items, { min, max }) {
    if (!items.length) return L.bounds(min, min.add([1, 1]));
    const { scale, left, top } = this.turn();
    const side = (choose, at) => items.reduce((far, { box }) => Math[choose](far, box[at]), items[0].box[at]);
    return L.bounds(
      [Math.max(min.x, Math.floor(side("min", 0) * scale + left) - EDGE), Math.max(min.y, Math.floor(top - side("max", 3) * scale) - EDGE)],
      [Math.min(max.x, Math.ceil(side("max", 2) * scale + left) + EDGE), Math.min(max.y, Math.ceil(top - side("min", 1) * scale) + EDGE)],
    );
  },

  // Pieces of work that draw the lines: some hundred in one, their casings before them.
  *strokes(context, items) {
    const turn = this.turn();
    this.drawn = 0;
    for (const [name, look] of Object.entries(this.looks)) {
      const wanted = items.filter((item) => this.style(item.row) === name);
      const own = this.thin ? this.toldApart(wanted, turn) : wanted;
      this.drawn += own.length;
      const dash = look.dashArray ? look.dashArray.split(" ").map(Number) : [];
      const batches = inBatches(own).map((batch) => ({ batch, path: null }));
      const stroke = (strokeStyle, lineWidth, globalAlpha, dashes) => batches.map((one) => () => {
        one.path ||= this.path(one.batch, turn);
        Object.assign(context, { strokeStyle, lineWidth, globalAlpha, lineCap: "round", lineJoin: "round" });
        context.setLineDash(dashes);
        context.stroke(one.path);
      });
      yield () => {}; // sorting them out was a piece of work too
      if (look.casing) yield* stroke(look.casing, look.weight + 2.5, 0.8, []);
      yield* stroke(look.color, look.weight, look.opacity ?? 1, dash);
    }
  },

  path(items, turn) {
    const path = new Path2D();
    for (const item of items) this.trace(path, item, turn);
    return path;
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

  // Pieces of work that draw the marks, one for all in a place.
  dots(context, items) {
    const { scale, left, top } = this.turn();
    const taken = new Set();
    const share = Math.min(1, Math.max(0.45, (this._map.getZoom() - 10) / 5)); // smaller from afar
    return inBatches(items, FEW).map((batch) => () => {
      for (const item of batch) {
        const [x, y] = [item.xy[0] * scale + left, top - item.xy[1] * scale];
        const look = this.looks[this.style(item.row)];
        const place = `${look.radius} ${Math.round(x / SAME_PLACE)} ${Math.round(y / SAME_PLACE)}`;
        if (taken.has(place)) continue;
        taken.add(place);
        Object.assign(context, { strokeStyle: look.color, lineWidth: look.weight, fillStyle: look.fill });
        context.beginPath();
        context.arc(x, y, look.radius * share, 0, 2 * Math.PI);
        context.fill();
        context.stroke();
      }
    });
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

function inBatches(items, most = BATCH) {
  const batches = [];
  let room = 0;
  for (const item of items) {
    if (room <= 0) {
      batches.push([]);
      room = most;
    }
    batches[batches.length - 1].push(item);
    room -= item.xy.length;
  }
  return batches;
}

const onMap = new Set(); // layers that are shown, the last added on top

function bulkLayers() {
  return [...onMap];
}

// One ear for all of them: the topmost that is near a tap tells about itself.
function bulkTaps(map) {
  // contours and tracks under the ranked lines, fish over them
  for (const [pane, zIndex] of [["contours", 380], ["tracks", 390], ["fish", 450]]) {
    Object.assign(map.createPane(pane).style, { zIndex, pointerEvents: "none" });
  }
  const hit = (latlng) => {
    const pixels = matchMedia("(hover: none)").matches ? 22 : 10;
    for (const layer of bulkLayers().reverse()) {
      const found = layer.about && layer.nearest(latlng, pixels);
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
    if (!tapsTaken() && !map.dragging.moving()) map.getContainer().style.cursor = hit(event.latlng) ? "pointer" : "";
  });
}

export { Bulk, bulkLayers, bulkTaps, placed };
