// Draws the histogram of a water's depths, with the band on it.
import { part } from "./svg.js";
import { openAround } from "./tasks.js";

const HIGH = 120;

export async function drawDepths(place) {
  const answer = await fetch(place.dataset.depths, { headers: { accept: "application/json" } });
  const said = await answer.json();
  if (said.wrong !== undefined) {
    place.append(Object.assign(document.createElement("p"), { className: "wrong", textContent: said.wrong }));
    for (const key of said.keys) {
      const field = document.querySelector(`[name="${CSS.escape(key)}"]`);
      openAround(field);
      field?.setAttribute("aria-invalid", "true");
    }
    return;
  }
  const form = place.parentElement.querySelector("form");
  const [from, to] = [form.elements.band_from, form.elements.band_to];
  if (said.band !== null && form.querySelector("[aria-invalid]") === null) [from.value, to.value] = said.band.map((depth) => depth.toFixed(1).replace(/\.0$/, ""));
  let picture = null;
  const show = () => picture.band(Number(from.value), Number(to.value));
  for (const field of [from, to]) field.addEventListener("input", show);
  new ResizeObserver(() => { // drawn as wide as it is shown, its words keep their size
    if (picture?.wide === place.clientWidth || place.clientWidth === 0) return;
    picture?.svg.remove();
    picture = draw(said, place.dataset.band, place.clientWidth);
    place.append(picture.svg);
    dragBand(picture, from, to, show);
    show();
  }).observe(place);
}

function draw({ edges, counts, unit }, label, wide) {
  const svg = part("svg", { viewBox: `0 0 ${wide} ${HIGH + 20}`, role: "img", "aria-label": label });
  const [least, most] = [edges[0], edges.at(-1)];
  const x = (depth) => ((depth - least) / (most - least)) * wide;
  const tallest = Math.max(...counts, 1);
  const shade = part("rect", { class: "band", y: 0, height: HIGH });
  svg.append(shade);
  counts.forEach((count, at) => {
    const high = (count / tallest) * HIGH;
    svg.append(part("rect", { class: "bar", x: x(edges[at]), width: x(edges[at + 1]) - x(edges[at]) - 1, y: HIGH - high, height: high }));
  });
  for (const share of [0, 0.25, 0.5, 0.75, 1]) {
    const depth = least + share * (most - least);
    const mark = part("text", { x: x(depth), y: HIGH + 16, "text-anchor": share === 0 ? "start" : share === 1 ? "end" : "middle" });
    mark.textContent = `${Math.round(depth)}${share === 1 ? ` ${unit}` : ""}`;
    svg.append(mark);
  }
  const band = (from, to) => {
    if (!(to > from)) return shade.setAttribute("width", 0);
    shade.setAttribute("x", x(Math.max(from, least)));
    return shade.setAttribute("width", Math.max(0, x(Math.min(to, most)) - x(Math.max(from, least))));
  };
  const depth = (event) => {
    const box = svg.getBoundingClientRect();
    return least + ((event.clientX - box.left) / box.width) * (most - least);
  };
  return { svg, band, depth, wide };
}

// Drag across the picture to draw the band; the fields do the same by keyboard.
function dragBand({ svg, depth }, from, to, show) {
  let start = null;
  svg.addEventListener("pointerdown", (event) => { start = depth(event); svg.setPointerCapture(event.pointerId); });
  svg.addEventListener("pointerup", () => { start = null; });
  svg.addEventListener("pointermove", (event) => {
    if (start === null) return;
    const [low, high] = [start, depth(event)].sort((one, other) => one - other);
    [from.value, to.value] = [Math.round(low), Math.max(Math.round(high), Math.round(low) + 1)];
    show();
  });
}
