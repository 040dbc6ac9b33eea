// The wind as a dial: turned by mouse, finger or keys, in step with the words.
import { part } from "./svg.js";

const POINTS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];
const STEP = 360 / POINTS.length;
const TURNS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 4, PageDown: -4 };
const UNKNOWN = "…"; // until the day is answered

export function windDial(place) {
  const form = place.closest("form");
  const field = form.elements.wind;
  const speed = place.querySelector("input");
  const shown = place.querySelector("output");
  const unit = place.dataset.unit;
  const { svg, arrow } = draw(place.dataset.label);
  place.prepend(svg);
  let point = 0;

  function show(known = true) {
    arrow.toggleAttribute("hidden", !known);
    arrow.setAttribute("transform", `rotate(${point * STEP})`);
    svg.setAttribute("aria-valuenow", Math.round(point * STEP));
    svg.setAttribute("aria-valuetext", known ? POINTS[point] : UNKNOWN);
    shown.textContent = known ? `${POINTS[point]} ${speed.value} ${unit}` : UNKNOWN;
  }
  function turn(to) {
    point = (Math.round(to) + POINTS.length) % POINTS.length;
    show();
  }
  function tell() {
    field.value = `${POINTS[point]} ${speed.value} ${unit}`;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
  const toward = (event) => {
    const box = svg.getBoundingClientRect();
    const angle = Math.atan2(event.clientX - box.left - box.width / 2, box.top + box.height / 2 - event.clientY);
    turn(((angle * 180) / Math.PI + 360) / STEP);
  };
  let held = false;
  svg.addEventListener("pointerdown", (event) => { svg.setPointerCapture(event.pointerId); held = true; toward(event); });
  svg.addEventListener("pointermove", (event) => held && toward(event));
  svg.addEventListener("lostpointercapture", () => { held = false; });
  svg.addEventListener("pointerup", (event) => { toward(event); tell(); });
  svg.addEventListener("keydown", (event) => {
    const step = TURNS[event.key];
    if (step === undefined) return;
    event.preventDefault();
    turn(point + step);
  });
  svg.addEventListener("keyup", (event) => event.key in TURNS && tell());
  speed.addEventListener("input", () => show());
  speed.addEventListener("change", tell);
  form.addEventListener("wind", ({ detail }) => {
    if (held) return; // an answer that comes late
    speed.value = Math.round(detail.speed);
    turn(detail.from / STEP);
  });
  show(false);
}

function draw(label) {
  const svg = part("svg", { viewBox: "-80 -80 160 160", role: "slider", tabindex: 0, "aria-label": label, "aria-valuemin": 0, "aria-valuemax": 359 });
  svg.append(part("circle", { class: "rim", r: 58 }));
  for (let at = 0; at < POINTS.length; at++) svg.append(part("line", { class: "tick", y1: -58, y2: at % 4 ? -53 : -48, transform: `rotate(${at * STEP})` }));
  for (const [name, x, y] of [["N", 0, -64], ["E", 70, 5], ["S", 0, 76], ["W", -70, 5]]) {
    svg.append(Object.assign(part("text", { x, y, "text-anchor": "middle" }), { textContent: name }));
  }
  const arrow = part("g", { class: "arrow" });
  arrow.append(part("path", { d: "M0 -54 V26 M-11 8 L0 28 L11 8" }), part("circle", { cy: -54, r: 9 }));
  svg.append(arrow);
  return { svg, arrow };
}
