// The depth grid in the browser: unpacked once, asked for depth and slope, painted on a canvas.

const EARTH = 6378137;

export async function unpackDepths(packed) {
  const bytes = Uint8Array.from(atob(packed.data), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  const numbers = new Uint16Array(await new Response(stream).arrayBuffer());
  const { rows, columns } = packed;
  for (let row = 0; row < rows; row += 1) {
    let sum = 0;
    for (let at = row * columns, end = at + columns; at < end; at += 1) {
      sum = (sum + numbers[at]) & 0xffff;
      numbers[at] = sum;
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

  // Paint into an ImageData of the grid's size; `band` in metres or null.
  paint(pixels, band, colours) {
    const { numbers, columns, rows, least, step } = this;
    const out = new Uint32Array(pixels.data.buffer);
    const top = Math.min(this.most, colours.deepest);
    const scale = (colours.ramp.length - 1) / Math.max(top - Math.max(least, 0), 1e-6);
    const from = Math.max(least, 0);
    const low = band ? (band[0] - least) / step + 1 : 0;
    const high = band ? (band[1] - least) / step + 1 : 0;
    const relief = (step * 5) / (2 * this.width * this.ground);
    for (let row = 0; row < rows; row += 1) {
      for (let column = 0, at = row * columns; column < columns; column += 1, at += 1) {
        const number = numbers[at];
        if (number === 0) {
          out[at] = 0;
          continue;
        }
        const inBand = band && number >= low && number <= high;
        const ramp = inBand ? colours.bandRamp : colours.ramp;
        const place = (least + (number - 1) * step - from) * scale;
        const colour = ramp[Math.max(0, Math.min(ramp.length - 1, place | 0))];
        const left = column > 0 ? numbers[at - 1] || number : number;
        const right = column < columns - 1 ? numbers[at + 1] || number : number;
        const up = row > 0 ? numbers[at - columns] || number : number;
        const down = row < rows - 1 ? numbers[at + columns] || number : number;
        // light from the north-west: ground that rises to the south-east is lit
        let light = 1 + relief * (left - right + up - down) * 0.7;
        light = light < 0.62 ? 0.62 : light > 1.22 ? 1.22 : light;
        const red = Math.min(255, colour[0] * light);
        const green = Math.min(255, colour[1] * light);
        const blue = Math.min(255, colour[2] * light);
        out[at] = (255 << 24) | (blue << 16) | (green << 8) | red;
      }
    }
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
