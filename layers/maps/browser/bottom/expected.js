// Expected fish a rod-hour over the ground, and how sure that is.
import { inflate, mercatorX, mercatorY, webBounds } from "./depths.js";
import { cellCanvas, DepthOverlay } from "./picture.js";
import { across, ramp } from "./scale.js";
import { rampStops } from "../frame/looks.js";
import { make } from "../frame/words.js";

// Limits further apart than this are a guess, and hatched.
const UNSURE = 4;
const HATCH = 6;

class Expected {
  constructor(packed, planes) {
    Object.assign(this, { rows: packed.rows, columns: packed.columns, scales: packed.scales, most: packed.most, planes });
    [this.west, this.south, this.east, this.north] = packed.bounds;
  }

  // Rate, low and high at a place; null where unknown.
  at(latitude, longitude) {
    const column = Math.floor(((mercatorX(longitude) - this.west) / (this.east - this.west)) * this.columns);
    const row = Math.floor(((this.north - mercatorY(latitude)) / (this.north - this.south)) * this.rows);
    if (row < 0 || column < 0 || row >= this.rows || column >= this.columns) return null;
    return this.cell(row * this.columns + column);
  }

  cell(index) {
    const cells = this.rows * this.columns;
    if (!this.planes[index]) return null;
    return this.scales.map(([least, step], i) => Math.exp(least + step * (this.planes[i * cells + index] - 1)));
  }
}

async function unpackExpected(packed) {
  return new Expected(packed, await inflate(packed.data));
}

function expectedLayer(state) {
  const { expected } = state;
  const { context, pixels, out } = cellCanvas(expected);
  const stops = rampStops(state.view, "expected"); // dark to light with the rate: its lightness tells the order
  paint(expected, ramp(stops, 256), out);
  context.putImageData(pixels, 0, 0);
  if (!state.map.getPane("expected")) state.map.createPane("expected").style.zIndex = 300; // over the depths, under the lines
  const layer = new DepthOverlay(context.canvas, webBounds(expected.west, expected.south, expected.east, expected.north), {
    interactive: false, className: "expected", pane: "expected",
  });
  layer.on("add", () => legend(state, true));
  layer.on("remove", () => legend(state, false));
  return layer;
}

// A cell's colour by its rate; where the limits are far apart, every other stripe is left out.
function paint({ rows, columns, planes, scales, most }, colours, out) {
  const cells = rows * columns;
  const colourOf = new Uint32Array(256);
  for (let number = 1; number < 256; number += 1) {
    const rate = Math.exp(scales[0][0] + scales[0][1] * (number - 1));
    const [red, green, blue] = colours[Math.round(Math.min(rate / most, 1) * 255)];
    colourOf[number] = ((235 << 24) | (blue << 16) | (green << 8) | red) >>> 0;
  }
  const logs = (plane, index) => scales[plane][0] + scales[plane][1] * (planes[plane * cells + index] - 1);
  const far = Math.log(UNSURE);
  for (let index = 0; index < cells; index += 1) {
    if (!planes[index]) continue;
    const unsure = logs(2, index) - logs(1, index) > far;
    const stripe = (Math.floor(index / columns) + (index % columns)) % HATCH < HATCH / 2;
    out[index] = unsure && stripe ? 0 : colourOf[planes[index]];
  }
}

function rateWords([rate, low, high]) {
  const words = (value) => value.toFixed(value < 0.95 ? 2 : 1);
  return `${words(rate)} fish a rod-hour (${words(low)} to ${words(high)})`;
}

function legend(state, shown) {
  const box = document.getElementById("expected-scale");
  box.hidden = !shown;
  state.set({ expectedShown: shown });
  if (!shown) return;
  const bar = make("div", null, "ramp");
  bar.style.background = across(rampStops(state.view, "expected"));
  const ends = make("div", null, "ramp-ends");
  for (const share of [0, 0.5, 1]) {
    const rate = state.expected.most * share;
    ends.append(make("span", share === 1 ? `${rate.toFixed(1)}+` : rate.toFixed(1)));
  }
  const hatch = make("span", null, "hatch");
  hatch.setAttribute("aria-hidden", "true");
  const unsure = make("p", null, "hint");
  unsure.append(hatch, make("span", `Striped: hardly known, the high end of 80% is over ${UNSURE} times the low. Bare: unlike any ground that was fished.`));
  box.replaceChildren(make("p", "Expected fish a rod-hour", "hint"), bar, ends, unsure);
}

export { Expected, expectedLayer, rateWords, unpackExpected, UNSURE };
