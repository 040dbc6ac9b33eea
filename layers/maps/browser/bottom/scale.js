// Colours of depth and of worth, and the legend.
import { depthDigits, make } from "../frame/words.js";

// Light to dark with depth: its lightness alone tells the order, so it reads without colour.
const SHOAL_TO_DEEP = [
  [244, 236, 214], [203, 222, 190], [142, 199, 181], [84, 165, 172], [54, 123, 155],
  [48, 84, 133], [42, 51, 104], [27, 27, 66],
];
// The band is warm where the rest is cool, and paler than deep water, darker than shoal.
const BAND = [[255, 222, 130], [247, 178, 62], [214, 124, 28]];
const RATE = ["#fde7a9", "#f5b14c", "#df7338", "#b03a48", "#6d1a4f"];

function ramp(stops, count) {
  return Array.from({ length: count }, (_, i) => {
    const place = (i / (count - 1)) * (stops.length - 1);
    const from = Math.min(Math.floor(place), stops.length - 2);
    return stops[from].map((value, j) => value + (stops[from + 1][j] - value) * (place - from));
  });
}

function depthColours(deepest) {
  return { ramp: ramp(SHOAL_TO_DEEP, 256), bandRamp: ramp(BAND, 64), deepest };
}

function rateColour(rate, most) {
  const place = most > 0 ? Math.floor((rate / most) * RATE.length) : 0;
  return RATE[Math.max(0, Math.min(RATE.length - 1, place))];
}

// Colours side by side, as a style sheet has it.
function across(colours) {
  const stops = colours.map((colour) => `rgb(${colour.map(Math.round).join(",")})`);
  return `linear-gradient(to right, ${stops.join(", ")})`;
}

function detailWords({ tiles }) {
  if (!tiles) return "";
  return tiles.short ? "; in full detail around the first of the lines and drifts" : "; in full detail around lines, drifts, fish and features";
}

// The legend: the ramp with depths in the user's unit, and the band marked on it.
function depthScale(box, state) {
  const draw = () => drawScale(box, state);
  state.on("units band depths", draw);
  draw();
}

function drawScale(box, state) {
  const { data, depths, units, band } = state;
  box.replaceChildren();
  if (!depths) {
    const lack = data.depths ? "This browser is too old to show the depths; the rest of the map works." : "No depth grid.";
    box.append(make("p", lack, "hint"));
    return;
  }
  const { colours } = state.picture;
  const least = Math.max(0, depths.least);
  const most = Math.min(depths.most, colours.deepest);
  const bar = make("div", null, "ramp");
  bar.style.background = across(colours.ramp.filter((_, i) => i % 15 === 0));
  if (band) {
    const mark = make("div", null, "ramp-band");
    const place = (metres) => Math.max(0, Math.min(1, (metres - least) / (most - least))) * 100;
    mark.style.left = `${place(band[0])}%`;
    mark.style.width = `${place(band[1]) - place(band[0])}%`;
    mark.style.background = across([0, 32, 63].map((i) => colours.bandRamp[i]));
    bar.append(mark);
  }
  const ends = make("div", null, "ramp-ends");
  const digits = depthDigits(units.depth);
  for (let i = 0; i <= 4; i += 1) {
    const metres = least + ((most - least) * i) / 4;
    const deeper = i === 4 && depths.most > most ? "+" : "";
    const unit = i === 4 ? ` ${units.depth[0]}` : "";
    ends.append(make("span", `${(metres / units.depth[1]).toFixed(digits)}${deeper}${unit}`));
  }
  box.append(bar, ends);
  const words = [];
  if (band) {
    const [low, high] = band.map((metres) => (metres / units.depth[1]).toFixed(digits));
    words.push(`Amber: ${low} to ${high} ${units.depth[0]}.`);
  }
  const datum = data.datum && data.datum !== "unknown" ? data.datum : "an unknown datum";
  words.push(`Depths are below ${datum}; the tide comes on top.`);
  const { reduced } = data.depths;
  if (reduced > 1) words.push(`Shown reduced, 1 cell for ${reduced.toFixed(1)} each way${detailWords(data.depths)}.`);
  box.append(make("p", words.join(" "), "hint"));
}

export { across, depthColours, depthScale, ramp, rateColour };
