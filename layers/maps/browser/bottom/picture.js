// The depths as a picture on the map: a small one at once, the whole when it is unpacked, and squares
// of full detail over a reduced one.
import { breath, unpackDepths, unpackTiles } from "./depths.js";
import { depthColours } from "./scale.js";
import { Shades } from "./shades.js";

const DepthOverlay = L.ImageOverlay.extend({
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
function cellCanvas({ rows, columns }) {
  const canvas = document.createElement("canvas");
  canvas.width = columns;
  canvas.height = rows;
  const context = canvas.getContext("2d");
  const pixels = context.createImageData(columns, rows);
  return { context, pixels, out: new Uint32Array(pixels.data.buffer) };
}

class Picture {
  constructor(packed, map, view) {
    this.packed = packed;
    map.createPane("depths").style.zIndex = 250; // over a base map, under all that is drawn
    this.colours = depthColours(packed.deepest, view);
    this.shades = new Shades(packed, packed.deepest);
    this.layer = L.featureGroup().addTo(map);
    this.depths = null;
    this.parts = []; // the picture of the whole first
    this.repaintMs = 0;
  }

  // What is seen first: few cells, at once.
  async small(band) {
    await this.#use(await unpackDepths(this.packed.preview, this.packed), band);
  }

  // Every cell there is, in pieces of work that leave the page alive.
  async whole(band) {
    const { packed } = this;
    const text = (id) => document.getElementById(id).textContent;
    const depths = await unpackDepths({ ...packed, data: text("depths-whole") }, packed);
    await this.#use(depths, band);
    if (!packed.tiles) return;
    await breath();
    const tiles = await unpackTiles({ ...packed.tiles, data: text("depths-tiles") }, packed);
    depths.refine(tiles);
    await this.#lay(tiles, band);
  }

  // Paint again, after the band was moved or the view changed.
  repaint(band, view) {
    const began = performance.now();
    this.colours = depthColours(this.packed.deepest, view);
    const table = this.shades.table(band, this.colours);
    for (const part of this.parts) paintPart(part, table);
    this.repaintMs = performance.now() - began;
  }

  async #use(depths, band) {
    const old = this.layer.getLayers();
    this.parts = [];
    await this.#lay([depths], band);
    for (const layer of old) this.layer.removeLayer(layer);
    this.depths = depths;
  }

  async #lay(every, band) {
    const made = [];
    for (const depths of every) made.push({ ...cellCanvas(depths), codes: await this.shades.codes(depths), depths });
    const table = this.shades.table(band, this.colours);
    for (const part of made) {
      paintPart(part, table);
      this.layer.addLayer(new DepthOverlay(part.context.canvas, part.depths.corners(), { interactive: false, pane: "depths" }));
    }
    this.parts.push(...made);
  }
}

function paintPart({ context, pixels, out, codes }, table) {
  for (let at = 0; at < codes.length; at += 1) out[at] = table[codes[at]];
  context.putImageData(pixels, 0, 0);
}

export { cellCanvas, DepthOverlay, Picture };
