// The depth grid in the browser: unpacked once, asked for depth and slope.

const EARTH = 6378137;

// Let the browser paint and answer the finger between two pieces of work.
function breath() {
  return new Promise((done) => { setTimeout(done); });
}

function bytesOf(text) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
  const letters = atob(text);
  const bytes = new Uint8Array(letters.length);
  for (let at = 0; at < letters.length; at += 1) bytes[at] = letters.charCodeAt(at);
  return bytes;
}

async function inflate(text) {
  const stream = new Blob([bytesOf(text)]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

async function numbersOf(text, rows, columns) {
  const planes = await inflate(text);
  const cells = rows * columns;
  const numbers = new Uint16Array(cells);
  for (let row = 0; row < rows; row += 1) {
    let sum = 0; // of this row's differences from the row above
    for (let at = row * columns, end = at + columns; at < end; at += 1) {
      const zigzag = planes[at] | (planes[cells + at] << 8);
      sum += (zigzag >>> 1) ^ -(zigzag & 1);
      numbers[at] = sum + (row ? numbers[at - columns] : 0);
    }
    if (row % 256 === 255) await breath();
  }
  return numbers;
}

async function unpackDepths(packed, scale) {
  return new Depths(packed, scale, await numbersOf(packed.data, packed.rows, packed.columns));
}

// The squares in full detail, one below the other in one packet.
async function unpackTiles({ size, bounds, data }, scale) {
  const numbers = await numbersOf(data, size * bounds.length, size);
  return bounds.map((box, i) => {
    const own = numbers.subarray(i * size * size, (i + 1) * size * size);
    return new Depths({ rows: size, columns: size, bounds: box }, scale, own);
  });
}

class Depths {
  constructor(packed, { least, step, most }, numbers) {
    const [west, south, east, north] = packed.bounds;
    Object.assign(this, { rows: packed.rows, columns: packed.columns, numbers });
    Object.assign(this, { least, step, most, west, south, east, north, finer: new Map() });
    this.width = (east - west) / packed.columns;
    this.height = (north - south) / packed.rows;
    // a metre over the ground is more than a metre of web Mercator away from the equator
    const middle = 2 * Math.atan(Math.exp((south + north) / 2 / EARTH)) - Math.PI / 2;
    this.ground = Math.cos(middle);
  }

  corners() {
    return webBounds(this.west, this.south, this.east, this.north);
  }

  // Take in squares of full detail: all are on one lattice, each with a margin of a cell.
  refine(tiles) {
    const [first] = tiles;
    this.side = (first.columns - 2) * first.width;
    this.origin = [first.west + first.width, first.north - first.height];
    this.tiles = tiles;
    for (const tile of tiles) {
      this.finer.set(this.tileKey(tile.west + tile.width * 1.5, tile.north - tile.height * 1.5), tile);
    }
  }

  tileKey(x, y) {
    return `${Math.floor((x - this.origin[0]) / this.side)} ${Math.floor((this.origin[1] - y) / this.side)}`;
  }

  // The finest there is at a place: a square of full detail, else this.
  finest(x, y) {
    return (this.finer.size && this.finer.get(this.tileKey(x, y))) || this;
  }

  cell(row, column) {
    if (row < 0 || column < 0 || row >= this.rows || column >= this.columns) return NaN;
    const number = this.numbers[row * this.columns + column];
    return number ? this.least + (number - 1) * this.step : NaN;
  }

  depth(latitude, longitude) {
    const [x, y] = [mercatorX(longitude), mercatorY(latitude)];
    return this.finest(x, y).between(x, y);
  }

  // Bilinear between cell centres, as the command does it; NaN on land and off the grid.
  between(east, north) {
    const x = (east - this.west) / this.width - 0.5;
    const y = (this.north - north) / this.height - 0.5;
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
    const [x, y] = [mercatorX(longitude), mercatorY(latitude)];
    return this.finest(x, y).slopeHere(x, y);
  }

  slopeHere(x, y) {
    const column = Math.floor((x - this.west) / this.width);
    const row = Math.floor((this.north - y) / this.height);
    const east = this.cell(row, column + 1) - this.cell(row, column - 1);
    const south = this.cell(row + 1, column) - this.cell(row - 1, column);
    const acrossEast = east / (2 * this.width * this.ground);
    const acrossSouth = south / (2 * this.height * this.ground);
    return (Math.atan(Math.hypot(acrossEast, acrossSouth)) * 180) / Math.PI;
  }
}

function mercatorX(longitude) {
  return (longitude * Math.PI * EARTH) / 180;
}

function mercatorY(latitude) {
  return EARTH * Math.log(Math.tan(Math.PI / 4 + (latitude * Math.PI) / 360));
}

// A box in metres of web Mercator as Leaflet's.
function webBounds(west, south, east, north) {
  return L.latLngBounds([[west, south], [east, north]].map(([x, y]) => L.CRS.EPSG3857.unproject(L.point(x, y))));
}

export { breath, Depths, inflate, mercatorX, mercatorY, unpackDepths, unpackTiles, webBounds };
