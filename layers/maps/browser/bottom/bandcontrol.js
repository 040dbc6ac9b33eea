// The two ends of the depth band, moved by hand; the map is painted again at once.
import { slider } from "../frame/card.js";

function bandControl(box, state) {
  const fill = () => fillBand(box, state);
  state.on("units depths", fill);
  fill();
}

function fillBand(box, state) {
  box.replaceChildren();
  if (!state.depths) return;
  const [unit, metres] = state.units.depth;
  const fine = unit === "ft" ? 1 : 0.25;
  const least = Math.floor(Math.max(0, state.depths.least) / metres);
  const most = Math.ceil(Math.min(state.depths.most, state.picture.colours.deepest) / metres);
  const start = state.band ? state.band.map((end) => end / metres) : [least, least];
  const ends = ["Amber from", "Amber to"].map((words, i) => {
    const made = slider(words, { min: least, max: most, step: fine, value: start[i] });
    box.append(made.label);
    return made;
  });
  let [asked, band] = [false, state.band];
  const tell = () => ends.forEach(({ input, say }) => say(`${Number(input.value)} ${unit}`));
  const change = (moved) => {
    const [from, to] = ends.map(({ input }) => Number(input.value));
    // the end that is moved pushes the other before it
    if (from > to) ends[1 - moved].input.value = ends[moved].input.value;
    const [low, high] = ends.map(({ input }) => Number(input.value) * metres);
    band = high > low ? [low, high] : null;
    tell();
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      state.set({ band });
    });
  };
  ends.forEach(({ input }, i) => input.addEventListener("input", () => change(i)));
  tell();
}

export { bandControl };
