// The day's tide, current and light as the job draws them, and what another wind does to the plan.
const SETTINGS = ["date", "wind", "seen", "seen_track", "pressure"];

export function followDay(place) {
  const form = place.closest("form");
  let asked = 0;
  const ask = async () => {
    const address = new URL(place.dataset.strip, location.href);
    for (const name of SETTINGS) address.searchParams.set(name, form.elements[name].value);
    address.searchParams.set("wide", Math.max(300, Math.round(place.clientWidth)));
    const mine = ++asked;
    const answer = await fetch(address, { headers: { accept: "application/json" } });
    const day = await answer.json();
    if (mine !== asked) return;
    const words = (kind, text) => Object.assign(document.createElement("p"), { className: kind, textContent: text });
    for (const name of SETTINGS) markField(form.elements[name], (day.keys ?? []).includes(name));
    const wrong = day.wrong ?? day.message;
    if (wrong !== undefined) {
      place.replaceChildren(words("wrong", wrong));
      return;
    }
    const picture = new DOMParser().parseFromString(day.svg, "text/html").querySelector("svg");
    place.replaceChildren(picture, words("hint", day.words));
    form.dispatchEvent(new CustomEvent("wind", { detail: day.wind }));
    markPlan(day.windows, form);
  };
  // What was seen holds for its own day alone.
  form.elements.date.addEventListener("change", () => {
    for (const name of ["seen", "seen_track", "pressure"]) form.elements[name].value = "";
  });
  for (const name of SETTINGS) form.elements[name].addEventListener("change", ask);
  ask();
}

// A field that the plan's message is about keeps its mark.
function markField(field, wrong) {
  if (wrong) field.setAttribute("aria-invalid", "true");
  else if (!field.hasAttribute("aria-errormessage")) field.removeAttribute("aria-invalid");
}

// Each drift of the plan: how much of it is in hours that are good in this wind.
function markPlan(windows, form) {
  const list = document.querySelector(".times");
  if (list === null) return;
  const other = SETTINGS.some((name) => form.elements[name].value.trim() !== list.dataset[name]);
  document.getElementById("plan-other").hidden = !other;
  const good = windows.filter(({ kind }) => kind !== "slack").map(({ start, end }) => [Date.parse(start), Date.parse(end)]);
  for (const row of list.querySelectorAll(".drift")) {
    const [start, end] = [Date.parse(row.dataset.start), Date.parse(row.dataset.end)];
    const within = good.reduce((sum, [from, to]) => sum + Math.max(0, Math.min(end, to) - Math.max(start, from)), 0);
    row.classList.toggle("lost", other && within < (end - start) / 2);
  }
}
