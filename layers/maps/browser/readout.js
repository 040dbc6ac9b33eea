// What lies under the pointer or the finger.
import { depthDigits, make, position, quantity } from "./words.js";

export function followPointer(map, state, box) {
  const depth = make("span", "", "depth");
  const slope = make("span", "", "slope");
  const place = make("span", "", "place");
  box.append(depth, slope, place);
  const say = (at) => {
    const metres = state.depths ? state.depths.depth(at.lat, at.lng) : NaN;
    const unit = state.units.depth;
    const known = Number.isFinite(metres);
    depth.textContent = known ? quantity(metres, unit, Math.max(1, depthDigits(unit))) : "no depth";
    const degrees = known ? state.depths.slope(at.lat, at.lng) : NaN;
    slope.textContent = Number.isFinite(degrees) ? `slope ${degrees.toFixed(1)}°` : "";
    place.textContent = position(at.lat, at.lng);
  };
  map.on("mousemove click", (event) => say(event.latlng));
  // on a phone there is no pointer: the middle of the map is told while it moves
  map.on("move", () => {
    if (window.matchMedia("(hover: none)").matches) say(map.getCenter());
  });
  say(map.getCenter());
}
