// The water of a day in the browser: tide, current and wind at a moment, and boats left to them.

const RADIUS = 6378137; // WGS 84
const ECCENTRICITY_SQUARED = 6.69437999014e-3;

class Water {
  constructor(packed) {
    Object.assign(this, packed);
    this.end = this.start + this.step * (this.count - 1);
  }

  between(row, moment) {
    if (!row) return NaN;
    const place = (moment - this.start) / this.step;
    if (place < 0 || place > this.count - 1) return NaN;
    const at = Math.min(Math.floor(place), this.count - 2);
    const share = place - at;
    const [a, b] = [row[at] ?? NaN, row[at + 1] ?? NaN];
    return share === 0 ? a : share === 1 ? b : a + (b - a) * share;
  }

  height(moment) {
    return this.between(this.height_m, moment);
  }

  current(moment) {
    return [this.between(this.east_mps, moment), this.between(this.north_mps, moment)];
  }

  leeway([speed, from]) {
    const fade = Math.min(Math.max(speed / this.light_air_mps, 0), 1);
    const along = this.downwind_slope * speed + this.downwind_offset_mps * fade;
    const toward = ((from + 180) * Math.PI) / 180;
    return [along * Math.sin(toward), along * Math.cos(toward)];
  }

  boat(moment, wind) {
    const [east, north] = this.current(moment);
    const [leewayEast, leewayNorth] = this.leeway(wind);
    return [east + leewayEast, north + leewayNorth];
  }
}

function degreesPerMetre(latitude) {
  const radians = (latitude * Math.PI) / 180;
  const flattening = 1 - ECCENTRICITY_SQUARED * Math.sin(radians) ** 2;
  const parallel = (RADIUS / Math.sqrt(flattening)) * Math.cos(radians);
  const meridian = (RADIUS * (1 - ECCENTRICITY_SQUARED)) / flattening ** 1.5;
  return [180 / Math.PI / parallel, 180 / Math.PI / meridian];
}

// A boat left alone from a place: fourth-order Runge-Kutta, as the command does it.
// Gives [{moment, longitude, latitude, depth}, …] and why it ended: "time", "shoal", "unknown".
function tryDrift(water, depths, start, moment, wind, { seconds = 3600, step = 30 } = {}) {
  const rate = ([, latitude], when) => {
    const [east, north] = water.boat(when, wind);
    const [perEast, perNorth] = degreesPerMetre(latitude);
    return [east * perEast, north * perNorth];
  };
  const moved = (at, by, share) => [at[0] + by[0] * share, at[1] + by[1] * share];
  const track = [];
  let at = start;
  for (let gone = 0; ; gone = Math.min(gone + step, seconds)) {
    const when = moment + gone;
    const tide = water.height(when);
    const charted = depths ? depths.depth(at[1], at[0]) : NaN;
    const depth = charted + (Number.isFinite(tide) ? tide : 0);
    if (depths && !(depth >= 0)) return { track, ended: "shoal" };
    track.push({ moment: when, longitude: at[0], latitude: at[1], depth });
    if (gone >= seconds) return { track, ended: "time" };
    const take = Math.min(step, seconds - gone);
    const first = rate(at, when);
    const second = rate(moved(at, first, take / 2), when + take / 2);
    const third = rate(moved(at, second, take / 2), when + take / 2);
    const fourth = rate(moved(at, third, take), when + take);
    const next = [0, 1].map((i) => at[i] + ((first[i] + 2 * second[i] + 2 * third[i] + fourth[i]) * take) / 6);
    if (!next.every(Number.isFinite)) return { track, ended: "unknown" };
    at = next;
  }
}

function toward([east, north]) {
  return [((Math.atan2(east, north) * 180) / Math.PI + 360) % 360, Math.hypot(east, north)];
}

function clock(moment, timezone, withDay = false) {
  const day = withDay ? { weekday: "short", day: "numeric", month: "short" } : {};
  const form = { ...day, hour: "2-digit", minute: "2-digit", hour12: false };
  try {
    return new Date(moment * 1000).toLocaleString("en-GB", { ...form, timeZone: timezone });
  } catch {
    return `${new Date(moment * 1000).toLocaleString("en-GB", { ...form, timeZone: "UTC" })} UTC`;
  }
}

export { clock, degreesPerMetre, toward, tryDrift, Water };
