// Numbers and positions as people read them.

const HAIR = 1e-6; // rounding of binary numbers: 1.524 m is 5 ft

// Halves rounded away from 0, as `seabed.units.rounded` does: figures are the same on screen, sheet and map.
function rounded(value, digits = 0) {
  const size = Math.floor(Math.abs(value) * 10 ** digits + 0.5 + HAIR) / 10 ** digits;
  return (value < 0 && size ? -size : size).toFixed(digits);
}

// What a number is at least: water is never said to be more than there is.
function roundedDown(value, digits = 0) {
  return (Math.floor(value * 10 ** digits + HAIR) / 10 ** digits).toFixed(digits);
}

function share(part) {
  return part === null || part === undefined ? "" : `${rounded(100 * part)}%`;
}

function quantity(metres, unit, digits = 0) {
  if (metres === null || metres === undefined || Number.isNaN(metres)) return "unknown";
  return `${rounded(metres / unit[1], digits)} ${unit[0]}`;
}

function depthDigits(unit) {
  return unit[0] === "ft" ? 0 : 1;
}

function degreesMinutes(value, sides, width) {
  const total = Math.round(Math.abs(value) * 60000);
  const degrees = String(Math.floor(total / 60000)).padStart(width, "0");
  const minutes = ((total % 60000) / 1000).toFixed(3).padStart(6, "0");
  return `${degrees}°${minutes}′${value < 0 ? sides[1] : sides[0]}`;
}

function position(latitude, longitude) {
  const wrapped = ((((longitude + 180) % 360) + 360) % 360) - 180;
  return `${degreesMinutes(latitude, "NS", 2)}  ${degreesMinutes(wrapped, "EW", 3)}`;
}

function direction(degrees) {
  if (degrees === null || degrees === undefined) return "unknown";
  return `${String(Math.round(degrees) % 360).padStart(3, "0")}°`;
}

function span(seconds) {
  const minutes = Number(rounded(seconds / 60));
  return minutes < 90 ? `${minutes} min` : `${(minutes / 60).toFixed(1)} h`;
}

// An element with text in it: never HTML, since the text may come from a file.
function make(tag, text, kind) {
  const element = document.createElement(tag);
  if (text !== undefined && text !== null) element.textContent = text;
  if (kind) element.className = kind;
  return element;
}

function part(name, attributes) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

export { degreesMinutes, depthDigits, direction, make, part, position, quantity, rounded, roundedDown, share, span };
