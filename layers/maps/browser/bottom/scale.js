// Colours of depth and of worth, and the ramp that tells them.
import { contrast, rampStops } from "../frame/looks.js";
import { depthDigits, make } from "../frame/words.js";

const INKS = { day: [[0, 0, 0], [255, 255, 255]], night: [[0, 0, 0], [240, 230, 216]] };

function ramp(stops, count) {
  return Array.from({ length: count }, (_, i) => {
    const place = (i / (count - 1)) * (stops.length - 1);
    const from = Math.min(Math.floor(place), stops.length - 2);
    return stops[from].map((value, j) => value + (stops[from + 1][j] - value) * (place - from));
  });
}

// Light to dark with depth: its lightness alone tells the order, so it reads without colour.  The band
// is warm where the rest is cool.
function depthColours(deepest, view) {
  return { ramp: ramp(rampStops(view, "depth"), 256), bandRamp: ramp(rampStops(view, "band"), 64), deepest };
}

// The colour of a depth on level ground; `ends` are the least and greatest depth.
function depthColour(colours, ends, band, depth) {
  const inBand = band && depth >= band[0] && depth <= band[1];
  const from = Math.max(ends[0], 0);
  const [stops, low, span] = inBand ? [colours.bandRamp, band[0], band[1] - band[0]]
    : [colours.ramp, from, Math.min(ends[1], colours.deepest) - from];
  const place = Math.round(((depth - low) / Math.max(span, 1e-6)) * (stops.length - 1));
  return stops[Math.max(0, Math.min(stops.length - 1, place))];
}

// Dark or light, whichever stands out on a colour: 4.5 to 1 by day.
function inkOn(colour, view) {
  const [dark, light] = INKS[view === "night" ? "night" : "day"];
  return contrast(dark, colour) > contrast(light, colour) ? dark : light;
}

function css(rgb) {
  return `rgb(${rgb.map(Math.round).join(",")})`;
}

// The step of the rate's ramp that a rate falls in, and what its steps are.
function rateColour(view, rate, most) {
  const stops = rampStops(view, "rate");
  const place = most > 0 ? Math.floor((rate / most) * stops.length) : 0;
  return css(stops[Math.max(0, Math.min(stops.length - 1, place))]);
}

// Colours side by side, as a style sheet has it.
function across(colours) {
  return `linear-gradient(to right, ${colours.map(css).join(", ")})`;
}

function detailWords({ tiles }) {
  if (!tiles) return "";
  return tiles.short ? "; in full detail around the first of the lines and drifts" : "; in full detail around lines, drifts, fish and features";
}

// The ramp along the foot of the page, with the band on it, and what is said of the depths in the list.
function depthScale(bar, words, state) {
  const draw = () => {
    drawRamp(bar, state);
    words.replaceChildren(make("p", depthWords(state), "hint"));
  };
  state.on("units band depths view", draw);
  draw();
}

function depthWords({ data, depths, units, band }) {
  if (!depths) return data.depths ? "This browser is too old to show the depths; the rest of the map works." : "No depth grid.";
  const datum = data.datum && data.datum !== "unknown" ? data.datum : "an unknown datum";
  const words = [`Depths are below ${datum}; the tide comes on top.`];
  if (band) words.unshift(`Amber: ${band.map((metres) => (metres / units.depth[1]).toFixed(depthDigits(units.depth))).join(" to ")} ${units.depth[0]}.`);
  const { reduced } = data.depths;
  if (reduced > 1) words.push(`Shown reduced, 1 cell for ${reduced.toFixed(1)} each way${detailWords(data.depths)}.`);
  return words.join(" ");
}

function drawRamp(box, state) {
  const { depths, units, band, picture } = state;
  box.replaceChildren();
  box.hidden = !depths;
  if (!depths) return;
  const [unit, metre] = units.depth;
  const number = (metres) => (metres / metre).toFixed(depthDigits(units.depth));
  const least = Math.max(0, depths.least);
  const most = Math.max(Math.min(depths.most, picture.colours.deepest), least + 1e-6);
  const place = (metres) => Math.max(0, Math.min(1, (metres - least) / (most - least))) * 100;
  const bar = make("div", null, "ramp");
  bar.style.background = across(picture.colours.ramp.filter((_, i) => i % 15 === 0));
  const ends = make("div", null, "ramp-marks");
  const tell = (metres, words, kind) => {
    const label = make("span", words, kind);
    label.style.left = `${place(metres)}%`;
    ends.append(label);
  };
  tell(least, number(least), "first");
  tell(most, `${number(most)}${depths.most > most ? "+" : ""} ${unit}`, "last");
  if (band) {
    const mark = make("div", null, "ramp-band");
    mark.style.left = `${place(band[0])}%`;
    mark.style.width = `${place(band[1]) - place(band[0])}%`;
    mark.style.background = across([0, 32, 63].map((i) => picture.colours.bandRamp[i]));
    bar.append(mark);
    tell((Math.max(band[0], least) + Math.min(band[1], most)) / 2, `${number(band[0])} to ${number(band[1])}`, "band");
  }
  box.setAttribute("aria-label", `Depth, ${unit}: light is shoal, dark is deep${band ? ", amber is the band" : ""}`);
  box.append(bar, ends);
}

export { across, css, depthColour, depthColours, depthScale, inkOn, ramp, rateColour };
