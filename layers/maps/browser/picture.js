// The depths as a picture on the map: a small one at once, the whole when it is unpacked, and squares
// of full detail over a reduced one.
import { breath, unpackDepths, unpackTiles } from "./depths.js";
import { depthColours } from "./scale.js";
import { Shades } from "./shades.js";

export const DepthOverlay = L.ImageOverlay.extend({
  _initImage() {
    const canvas = this._url;
    L.DomUtil.addClass(canvas, "leaflet-image-layer");
    if (this._zoomAnimated) L.DomUtil.addClass(canvas, "leaflet-zoom-animated");
    if (this.options.className) L.DomUtil.addClass(canvas, this.options.className);
    canvas.onselectstart = L.Util.falseFn;
    canvas.onmousemove = L.Util.falseFn;
    this._image = canvas;
  },
});

// A canvas of a pixel a cell, and the numbers that are its colours.
export function cellCanvas({ rows, columns }) {
  const canvas = document.createElement("canvas");
  Object.assign(canvas, { width: columns, height: rows });
  const context = canvas.getContext("2d");
  const pixels = context.createImageData(columns, rows);
  return { context, pixels, out: new Uint32Array(pixels.data.buffer) };
}

// One canvas: each cell's code, and the pixels they are painted into.
async function canvasOf(depths, shades) {
  return { ...cellCanvas(depths), codes: await shades.codes(depths), depths };
}

function paintPart({ context, pixels, out, codes }, table) {
  for (let at = 0; at < codes.length; at += 1) out[at] = table[codes[at]];
  context.putImageData(pixels, 0, 0);
}

// Paint the depths again, after the band was moved.
export function repaint(state) {
  const table = state.shades.table(state.band, state.colours);
  for (const part of state.paintings) paintPart(part, table);
}

async function addPictures(state, every) {
  const made = [];
  for (const depths of every) made.push(await canvasOf(depths, state.shades));
  const old = state.shading.getLayers();
  const table = state.shades.table(state.band, state.colours);
  for (const part of made) {
    paintPart(part, table);
    const pane = { interactive: false, pane: "depths" };
    state.shading.addLayer(new DepthOverlay(part.context.canvas, part.depths.corners(), pane));
  }
  return { made, old };
}

async function usePicture(state, depths) {
  const { made, old } = await addPictures(state, [depths]);
  for (const layer of old) state.shading.removeLayer(layer);
  state.paintings = made;
  [state.painting] = made;
  state.depths = depths;
}

// What is seen first: few cells, at once.
export async function firstPicture(state) {
  const packed = state.data.depths;
  state.map.createPane("depths").style.zIndex = 250; // over a base map, under all that is drawn
  state.colours = depthColours(packed.deepest);
  state.shades = new Shades(packed, packed.deepest);
  state.shading = L.featureGroup().addTo(state.map);
  await usePicture(state, await unpackDepths(packed.preview, packed));
}

// Every cell there is, in pieces of work that leave the page alive.
export async function wholePicture(state) {
  const packed = state.data.depths;
  const text = (id) => document.getElementById(id).textContent;
  const whole = await unpackDepths({ ...packed, data: text("depths-whole") }, packed);
  whole.reduced = packed.reduced;
  await usePicture(state, whole);
  if (!packed.tiles) return;
  await breath();
  const tiles = await unpackTiles({ ...packed.tiles, data: text("depths-tiles") }, packed);
  whole.refine(tiles);
  state.paintings.push(...(await addPictures(state, tiles)).made);
}
