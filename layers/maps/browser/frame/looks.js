// The table of looks (`layers/present/looks.py`) as the view has it: day, bright sun or night.

let lookTable = null;

function looks() {
  lookTable ||= JSON.parse(document.getElementById("looks").textContent);
  return lookTable;
}

// How a meaning is drawn: Leaflet's options of its line, and the colour of the casing under it.
function markLook(view, name) {
  const { color, night, casing, nightCasing, weight, dashArray, symbol } = looks().marks[name];
  const dark = view === "night";
  return {
    color: dark ? night : color, casing: dark ? nightCasing : casing, dashArray, symbol,
    weight: view === "sun" ? weight * 1.4 : weight,
  };
}

function inkLook(view, name) {
  return looks().views[view]?.[name] || looks().inks[name];
}

// Colours of a ramp, as red, green and blue; at night its own where it has one.
function rampStops(view, name) {
  const { ramps } = looks();
  return (view === "night" && ramps[`${name}_night`]) || ramps[name];
}

function luminance(rgb) {
  // relative luminance of sRGB (WCAG 2.2)
  const [red, green, blue] = rgb.map((part) => (part <= 10 ? part / 255 / 12.92 : ((part / 255 + 0.055) / 1.055) ** 2.4));
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}

// Contrast ratio of two colours, 1 to 21 (WCAG 2.2).
function contrast(one, other) {
  const [less, more] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (more + 0.05) / (less + 0.05);
}

export { contrast, inkLook, looks, markLook, rampStops };
