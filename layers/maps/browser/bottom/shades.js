// Depths as colours.  What is painted is worked out once: each cell's level of depth (11 bits) and
// light (5 bits) in one number, so that other colours are one look-up a cell.
import { breath } from "./depths.js";
import { depthColour } from "./scale.js";

const LIGHTS = 32;
const LEVELS = 2047;
const DEEPER = 1980;
const DARKEST = 0.6;
const BRIGHTEST = 1.24;

// Levels end at `deepest`; the last few are for what is deeper.
class Shades {
  constructor({ least, step, most }, deepest) {
    Object.assign(this, { least, step, most });
    const fine = Math.max(deepest - least, 0.01) / (DEEPER - 1);
    const coarse = Math.max(most - deepest, 0.01) / (LEVELS - DEEPER);
    this.depthOfLevel = Float64Array.from({ length: LEVELS + 1 }, (_, level) =>
      level <= DEEPER ? least + (level - 1) * fine : deepest + (level - DEEPER) * coarse);
    this.levelOf = new Uint16Array(65536);
    for (let number = 1; number < 65536; number += 1) {
      const depth = least + (number - 1) * step;
      const level = depth <= deepest ? 1 + Math.round((depth - least) / fine)
        : DEEPER + Math.ceil((depth - deepest) / coarse);
      this.levelOf[number] = Math.min(level, LEVELS) * LIGHTS;
    }
  }

  async codes(depths) {
    const { numbers, columns, rows } = depths;
    const { levelOf } = this;
    const relief = (this.step * 3.5) / (2 * depths.width * depths.ground);
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
        // light from the north-west: ground that falls to the south-east is in shade
        const light = 1 + relief * (left - right + up - down);
        const share = ((light - DARKEST) / (BRIGHTEST - DARKEST)) * (LIGHTS - 1);
        codes[at] = levelOf[number] + Math.max(0, Math.min(LIGHTS - 1, Math.round(share)));
      }
      if (row % 256 === 255) await breath();
    }
    return codes;
  }

  // Colour of every code; `band` in metres or null.
  table(band, colours) {
    const table = new Uint32Array(65536);
    const ends = [this.least, this.most];
    for (let level = 1; level <= LEVELS; level += 1) {
      const colour = depthColour(colours, ends, band, this.depthOfLevel[level]);
      for (let light = 0; light < LIGHTS; light += 1) {
        const share = DARKEST + ((BRIGHTEST - DARKEST) * light) / (LIGHTS - 1);
        const [red, green, blue] = colour.map((value) => Math.min(255, Math.round(value * share)));
        table[level * LIGHTS + light] = ((255 << 24) | (blue << 16) | (green << 8) | red) >>> 0;
      }
    }
    return table;
  }
}

export { Shades };
