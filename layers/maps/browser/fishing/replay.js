// A trip run through again: the boat along its pieces, the fish as they came.
import { button, choice, facts, slider } from "../frame/card.js";
import { boatMarks, fishMark } from "../bottom/overlays.js";
import { metresBetween } from "../bottom/profile.js";
import { make, quantity, span } from "../frame/words.js";

const KINDS_OF_PIECE = { run: "running", drift: "drifting", hold: "holding", gap: "no fixes" };

function seconds(text) {
  return text ? Date.parse(`${text.replace(" ", "T")}Z`) / 1000 : NaN; // local text on both sides
}

// Where the boat was: along the piece of that time, by its share of the piece's length.
function boatAt(pieces, moment) {
  let piece = pieces.find((one) => moment >= one.from && moment <= one.to);
  if (!piece) piece = [...pieces].reverse().find((one) => one.to <= moment) || pieces[0];
  const coordinates = piece.g.coordinates;
  const lengths = coordinates.slice(1).map((b, i) => metresBetween(coordinates[i], b));
  const whole = lengths.reduce((sum, one) => sum + one, 0);
  const share = Math.max(0, Math.min(1, (moment - piece.from) / Math.max(piece.to - piece.from, 1)));
  let left = whole * share;
  for (let i = 0; i < lengths.length; i += 1) {
    if (left <= lengths[i] || i === lengths.length - 1) {
      const part = lengths[i] ? Math.min(1, left / lengths[i]) : 0;
      const [a, b] = [coordinates[i], coordinates[i + 1]];
      return { piece, at: [a[1] + (b[1] - a[1]) * part, a[0] + (b[0] - a[0]) * part] };
    }
    left -= lengths[i];
  }
  return { piece, at: [coordinates[0][1], coordinates[0][0]] };
}

let replayed = null; // where the boat is shown

function replayControl(box, state) {
  const pieces = (state.data.pieces || [])
    .map((one) => ({ ...one, from: seconds(one.start), to: seconds(one.end) }))
    .filter((one) => one.from <= one.to && one.g.type === "LineString")
    .sort((a, b) => a.from - b.from);
  box.parentElement.hidden = !pieces.length;
  if (!pieces.length) return;
  const days = [...new Set(pieces.map((one) => one.start.slice(0, 10)))];
  const select = choice(box, "Trip of", days.map((day) => [day, day]), days[days.length - 1]);
  const { label, input, say: tell } = slider("Time", { step: 5 }, "Time of the trip");
  const sayTime = (moment) => tell(new Date(moment * 1000).toISOString().slice(11, 16)); // local text, as it came
  const play = button("Play", () => (timer === null ? run() : stop()));
  const row = make("div", null, "row");
  row.append(play, button("Close", () => { stop(); drawn.remove(); }));
  const numbers = make("div");
  box.append(label, row, numbers);
  const drawn = L.layerGroup();
  let [ofDay, timer] = [[], null];
  const say = () => {
    const moment = Number(input.value);
    sayTime(moment);
    const { piece, at } = boatAt(ofDay, moment);
    const fish = (state.data.catches || []).filter((one) => one.g && one.time
      && one.time.slice(0, 10) === select.value && seconds(one.time) <= moment);
    drawn.clearLayers();
    for (const one of fish) {
      const [longitude, latitude] = one.g.coordinates;
      fishMark(state, [latitude, longitude], one.kept, { interactive: false }).addTo(drawn);
    }
    for (const mark of boatMarks(state, at)) mark.addTo(drawn);
    drawn.addTo(state.map);
    replayed = { at, fish: fish.length, kind: piece.kind };
    numbers.replaceChildren(facts([
      ["The boat is", KINDS_OF_PIECE[piece.kind] || piece.kind],
      ["Speed", quantity(piece.sog_mps, state.units.speed, 1)],
      ["This piece lasts", span(piece.duration_s)],
      ["Fish so far", String(fish.length)],
    ]));
  };
  const setDay = () => {
    stop();
    ofDay = pieces.filter((one) => one.start.slice(0, 10) === select.value);
    input.min = ofDay[0].from;
    input.max = ofDay[ofDay.length - 1].to;
    input.value = input.min;
    sayTime(ofDay[0].from);
    drawn.remove();
    numbers.replaceChildren();
  };
  function stop() {
    if (timer !== null) clearInterval(timer);
    timer = null;
    play.textContent = "Play";
  }
  function run() {
    if (Number(input.value) >= Number(input.max)) input.value = input.min;
    const stride = (Number(input.max) - Number(input.min)) / 400; // forty seconds in all
    play.textContent = "Stop";
    timer = setInterval(() => {
      input.value = Math.min(Number(input.max), Number(input.value) + Math.max(5, stride));
      say();
      if (Number(input.value) >= Number(input.max)) stop();
    }, 100);
  }
  input.addEventListener("input", () => { stop(); say(); });
  select.addEventListener("change", setDay);
  setDay();
}

export { boatAt, replayControl, replayed };
