// The day's tide, current and light as the job draws them; the plan is laid again when they change.
import { dropTask, renew } from "./tasks.js";
import { fill } from "./words.js";

const OF_DAY = ["date", "wind", "seen", "seen_track", "pressure"];
const SETTINGS = [...OF_DAY, "begin", "end", "free"];
const PAUSE_MS = 700;
const SETTLED_MS = 150;
const [LEAST, DRAWN_PX, READ_PX] = [225, 12, 16]; // its words are drawn small, and shown larger

const words = (kind, text) => Object.assign(document.createElement("p"), { className: kind, textContent: text });

export function followDay(place, water) {
  const form = place.closest("form");
  let asked = 0;
  let changes = 0;
  let day = null;
  let drawn = 0;

  async function ask() {
    const address = new URL(place.dataset.strip, location.href);
    for (const name of OF_DAY) address.searchParams.set(name, form.elements[name].value);
    drawn = place.clientWidth;
    address.searchParams.set("wide", Math.max(LEAST, Math.round(drawn * DRAWN_PX / READ_PX)));
    const mine = ++asked;
    place.setAttribute("aria-busy", "true");
    const answer = await fetch(address, { headers: { accept: "application/json" } });
    const shown = await answer.json();
    if (mine !== asked) return;
    place.removeAttribute("aria-busy");
    for (const name of OF_DAY) markField(form.elements[name], (shown.keys ?? []).includes(name));
    const wrong = shown.wrong ?? shown.message;
    day = wrong === undefined ? shown : null;
    if (day === null) {
      const said = [...document.querySelectorAll(".wrong")].some((one) => !place.contains(one) && one.textContent.endsWith(wrong));
      place.replaceChildren(...(said ? [] : [words("wrong", wrong)]));
    } else {
      const picture = new DOMParser().parseFromString(day.svg, "text/html").querySelector("svg");
      place.replaceChildren(picture, words("hint", day.words));
      form.dispatchEvent(new CustomEvent("wind", { detail: day.wind }));
    }
    markPlan(day, form);
  }

  // A plan on the page is laid again for what the fields now say; one on its way is not wanted.
  async function change(event) {
    const mine = ++changes;
    const ofDay = OF_DAY.includes(event.target.name);
    if (ofDay) day = null;
    markPlan(day, form);
    const dropped = await dropTask();
    if (ofDay) await ask();
    if (mine !== changes) return;
    if (day === null || !isOther(form)) {
      if (dropped) renew(water);
      return;
    }
    await new Promise((resolve) => { setTimeout(resolve, PAUSE_MS); });
    if (mine === changes && form.reportValidity()) lay();
  }

  async function lay() {
    const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)), headers: { accept: "application/json" } });
    if (answer.ok) renew(water, (await answer.json()).page);
  }

  // What was seen holds for its own day alone.
  form.elements.date.addEventListener("change", () => {
    for (const name of ["seen", "seen_track", "pressure"]) form.elements[name].value = "";
  });
  for (const name of SETTINGS) form.elements[name].addEventListener("change", change);
  form.addEventListener("submit", () => { changes++; });
  let resized = 0;
  new ResizeObserver(() => {
    clearTimeout(resized);
    if (place.clientWidth !== drawn) resized = setTimeout(ask, SETTLED_MS);
  }).observe(place);
  document.addEventListener("renewed", () => markPlan(day, form));
  ask();
}

// A field that the plan's message is about keeps its mark.
function markField(field, wrong) {
  if (wrong) field.setAttribute("aria-invalid", "true");
  else if (!field.hasAttribute("aria-errormessage")) field.removeAttribute("aria-invalid");
}

function valueOf(field) {
  if (field.type === "checkbox") return field.checked ? field.value : "";
  return field.value.trim();
}

// Whether the fields say something else than the plan was laid for; without a plan they never do.
function isOther(form) {
  const list = document.querySelector(".times");
  return list !== null && SETTINGS.some((name) => valueOf(form.elements[name]) !== list.dataset[name]);
}

// Drifts for other water stay to be seen, in grey: how the boat goes then, and whether the hours are still good.
function markPlan(day, form) {
  const list = document.querySelector(".times");
  if (list === null) return;
  const other = isOther(form);
  list.closest("section").classList.toggle("earlier", other);
  document.querySelector(".bottom-map").classList.toggle("earlier", other);
  document.getElementById("plan-other").hidden = !other;
  const windows = (day?.windows ?? []).filter(({ kind }) => kind !== "slack");
  const good = windows.map(({ start, end }) => [Date.parse(start), Date.parse(end)]);
  for (const row of list.querySelectorAll(".drift")) {
    const [start, end] = [Date.parse(row.dataset.start), Date.parse(row.dataset.end)];
    const within = good.reduce((sum, [from, to]) => sum + Math.max(0, Math.min(end, to) - Math.max(start, from)), 0);
    row.classList.toggle("lost", other && day !== null && within < (end - start) / 2);
    const then = row.querySelector(".then");
    const at = day?.drift.find(([time]) => time >= (start + end) / 2);
    then.hidden = !other || at === undefined;
    if (at !== undefined) then.textContent = fill(then.dataset.words, { speed: at[1], toward: at[2] });
  }
}
