// What is under the pointer or the finger.
import { button, openMiddle } from "./card.js";
import { rateWords } from "../bottom/expected.js";
import { clock } from "../bottom/water.js";
import { depthDigits, make, position, quantity } from "./words.js";

// Words for a moment, beside what is under the pointer.
function announce(words) {
  document.getElementById("said").textContent = words;
}

function followPointer(state, box) {
  const { map } = state;
  const [depth, slope, tide, expected, place, said] = ["depth", "slope", "tide", "expected-here", "place", "said"].map((kind) => make("span", "", kind));
  said.id = "said";
  said.setAttribute("role", "status");
  let at = map.getCenter();
  let tapped = null;
  const copy = button("Copy", () => {
    const words = position(tapped.lat, tapped.lng);
    copyText(words).then(() => announce(`Copied ${words}`), () => announce(words));
  }, "copy");
  copy.hidden = true;
  tide.hidden = !state.water;
  box.append(depth, slope, tide, expected, place, copy, said);
  const say = () => {
    const metres = state.depths ? state.depths.depth(at.lat, at.lng) : NaN;
    const unit = state.units.depth;
    const digits = Math.max(1, depthDigits(unit));
    const known = Number.isFinite(metres);
    depth.textContent = known ? quantity(metres, unit, digits) : "no depth";
    const degrees = known ? state.depths.slope(at.lat, at.lng) : NaN;
    slope.textContent = Number.isFinite(degrees) ? `slope ${degrees.toFixed(1)}°` : "";
    const height = known && state.water ? state.water.height(state.moment) : NaN;
    tide.textContent = Number.isFinite(height)
      ? `${quantity(metres + height, unit, digits)} at ${clock(state.moment, state.data.timezone)}` : "";
    const rate = state.expectedShown ? state.expected.at(at.lat, at.lng) : null;
    expected.textContent = rate ? rateWords(rate) : "";
    place.textContent = position(at.lat, at.lng);
  };
  const follow = (latlng) => { at = latlng; say(); };
  // on a phone there is no pointer: a cross in the open middle of the map stands for it
  const touch = matchMedia("(hover: none)").matches;
  const cross = make("div");
  cross.id = "cross";
  cross.hidden = !touch;
  cross.setAttribute("aria-hidden", "true");
  document.body.append(cross);
  const tell = () => {
    if (touch) {
      at = openMiddle(state);
      const { x, y } = map.latLngToContainerPoint(at);
      Object.assign(cross.style, { left: `${x}px`, top: `${y}px` });
    }
    say();
  };
  map.on("mousemove", (event) => follow(event.latlng));
  map.on("click", (event) => {
    tapped = event.latlng;
    copy.hidden = false;
    copy.setAttribute("aria-label", `Copy the tapped place, ${position(tapped.lat, tapped.lng)}`);
    announce("");
    follow(event.latlng);
  });
  if (touch) map.on("move", tell);
  state.on("units moment depths expectedShown", tell);
  new ResizeObserver(tell).observe(document.getElementById("card")); // it moves the open middle
  tell();
}

async function copyText(words) {
  if (navigator.clipboard) {
    await navigator.clipboard.writeText(words);
    return;
  }
  const area = make("textarea", words);
  document.body.append(area);
  area.select();
  const done = document.execCommand("copy");
  area.remove();
  if (!done) throw new Error("not copied");
}

export { announce, followPointer };
