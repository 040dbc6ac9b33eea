// The depth grid in the browser: unpacked once, asked for depth and slope, painted on a canvas.

const EARTH = 6378137;
const LIGHTS = 32;
const LEVELS = 2047;
const DEEPER = 1980;
const DARKEST = 0.6;
const BRIGHTEST = 1.24;

export async function unpackDepths(packed) {
  const bytes = Uint8Array.from(atob(packed.data), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  const planes = new Uint8Array(await new Response(stream).arrayBuffer());
  const { rows, columns } = packed;
  const cells = rows * columns;
  const numbers = new Uint16Array(cells);
  for (let row = 0; row < rows; row += 1) {
    let sum = 0; // of this row's differences from the row above
    for (let at = row * columns, end = at + columns; at < end; at += 1) {
      const zigzag = planes[at] | (planes[cells + at] << 8);
      sum += (zigzag >>> 1) ^ -(zigzag & 1);
      numbers[at] = sum + (row ? numbers[at - columns] : 0);
    }
  }
  return new Depths(packed, numbers);
}

export class Depths {
  constructor(packed, numbers) {
    const [west, south, east, north] = packed.bounds;
    Object.assign(this, { rows: packed.rows, columns: packed.columns, numbers });
    Object.assign(this, { least: packed.least, step: packed.step, west, south, east, north });
    this.width = (east - west) / packed.columns;
    this.height = (north - south) / packed.rows;
    // a metre over the ground is more than a metre of web Mercator away from the equator
    const middle = 2 * Math.atan(Math.exp((south + north) / 2 / EARTH)) - Math.PI / 2;
    this.ground = Math.cos(middle);
    this.most = this.least;
    for (const number of numbers) {
      if (number) this.most = Math.max(this.most, this.least + (number - 1) * this.step);
    }
  }

  corners() {
    return [
      [latitudeOf(this.south), longitudeOf(this.west)],
      [latitudeOf(this.north), longitudeOf(this.east)],
    ];
  }

  cell(row, column) {
    if (row < 0 || column < 0 || row >= this.rows || column >= this.columns) return NaN;
    const number = this.numbers[row * this.columns + column];
    return number ? this.least + (number - 1) * this.step : NaN;
  }

  // Bilinear between cell centres, as the command does it; NaN on land and off the grid.
  depth(latitude, longitude) {
    const x = (mercatorX(longitude) - this.west) / this.width - 0.5;
    const y = (this.north - mercatorY(latitude)) / this.height - 0.5;
    if (x < -0.5 || y < -0.5 || x > this.columns - 0.5 || y > this.rows - 0.5) return NaN;
    const column = Math.min(Math.max(Math.floor(x), 0), Math.max(this.columns - 2, 0));
    const row = Math.min(Math.max(Math.floor(y), 0), Math.max(this.rows - 2, 0));
    const right = Math.min(Math.max(x - column, 0), 1);
    const down = Math.min(Math.max(y - row, 0), 1);
    let sum = 0;
    for (const [r, c, share] of [
      [row, column, (1 - down) * (1 - right)],
      [row, column + 1, (1 - down) * right],
      [row + 1, column, down * (1 - right)],
      [row + 1, column + 1, down * right],
    ]) {
      if (share > 0) sum += share * this.cell(r, c);
    }
    return sum;
  }

  // Slope in degrees: central differences over two cells.
  slope(latitude, longitude) {
    const column = Math.floor((mercatorX(longitude) - this.west) / this.width);
    const row = Math.floor((this.north - mercatorY(latitude)) / this.height);
    const east = this.cell(row, column + 1) - this.cell(row, column - 1);
    const south = this.cell(row + 1, column) - this.cell(row - 1, column);
    const acrossEast = east / (2 * this.width * this.ground);
    const acrossSouth = south / (2 * this.height * this.ground);
    return (Math.atan(Math.hypot(acrossEast, acrossSouth)) * 180) / Math.PI;
  }

  // What is painted is worked out once: each cell's level of depth (11 bits) and light (5 bits) in
  // one number, so that other colours are one look-up a cell.  Levels end at `deepest`; the last
  // few are for what is deeper.
  encode(deepest) {
    const { numbers, columns, rows, least, step, most } = this;
    const fine = Math.max(deepest - least, 0.01) / (DEEPER - 1);
    const coarse = Math.max(most - deepest, 0.01) / (LEVELS - DEEPER);
    this.depthOfLevel = Float64Array.from({ length: LEVELS + 1 }, (_, level) =>
      level <= DEEPER ? least + (level - 1) * fine : deepest + (level - DEEPER) * coarse);
    const levelOf = new Uint16Array(65536);
    for (let number = 1; number < 65536; number += 1) {
      const depth = least + (number - 1) * step;
      const level = depth <= deepest ? 1 + Math.round((depth - least) / fine)
        : DEEPER + Math.ceil((depth - deepest) / coarse);
      levelOf[number] = Math.min(level, LEVELS) * LIGHTS;
    }
    const relief = (step * 3.5) / (2 * this.width * this.ground);
    const codes = new Uint16Array(numbers.length);
    for (let row = 0; row < rows; row += 1) {
      const above = row > 0 ? columns : 0;
      const below = row < rows - 1 ? columns : 0;
      for (let column = 0, at = row * columns; column < columns; column += 1, at += 1) {
        const number = numbers[at];
        if (number === 0) continue;
        const left = (column > 0 && numbers[at - 1]) || number;
        const right = (column < columns - 1 && numbers[at + 1]) || number;
        const up = numbers[at - above] || number;
        const down = numbers[at + below] || number;
        // light from the north-west: ground that falls to the south-east lies in shade
        const light = 1 + relief * (left - right + up - down);
        const share = ((light - DARKEST) / (BRIGHTEST - DARKEST)) * (LIGHTS - 1);
        codes[at] = levelOf[number] + Math.max(0, Math.min(LIGHTS - 1, Math.round(share)));
      }
    }
    this.codes = codes;
  }

  // Paint into an ImageData of the grid's size; `band` in metres or null.
  paint(pixels, band, colours) {
    const table = this.colourTable(band, colours);
    const out = new Uint32Array(pixels.data.buffer);
    const { codes } = this;
    for (let at = 0; at < codes.length; at += 1) out[at] = table[codes[at]];
  }

  colourTable(band, colours) {
    const table = new Uint32Array(65536);
    const from = Math.max(this.least, 0);
    const range = Math.max(Math.min(this.most, colours.deepest) - from, 1e-6);
    for (let level = 1; level <= LEVELS; level += 1) {
      const depth = this.depthOfLevel[level];
      const inBand = band && depth >= band[0] && depth <= band[1];
      const [ramp, low, span] = inBand
        ? [colours.bandRamp, band[0], Math.max(band[1] - band[0], 1e-6)] : [colours.ramp, from, range];
      const place = Math.round(((depth - low) / span) * (ramp.length - 1));
      const colour = ramp[Math.max(0, Math.min(ramp.length - 1, place))];
      for (let light = 0; light < LIGHTS; light += 1) {
        const share = DARKEST + ((BRIGHTEST - DARKEST) * light) / (LIGHTS - 1);
        const [red, green, blue] = colour.map((value) => Math.min(255, Math.round(value * share)));
        table[level * LIGHTS + light] = ((255 << 24) | (blue << 16) | (green << 8) | red) >>> 0;
      }
    }
    return table;
  }
}

export function mercatorX(longitude) {
  return (longitude * Math.PI * EARTH) / 180;
}

export function mercatorY(latitude) {
  return EARTH * Math.log(Math.tan(Math.PI / 4 + (latitude * Math.PI) / 360));
}

function longitudeOf(x) {
  return (x / EARTH / Math.PI) * 180;
}

function latitudeOf(y) {
  return ((2 * Math.atan(Math.exp(y / EARTH)) - Math.PI / 2) * 180) / Math.PI;
}
