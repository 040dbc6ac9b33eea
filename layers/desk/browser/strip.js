// The day's tide, current and light as the job draws them, and what another wind does to the plan.
export function followDay(place) {
  const form = place.closest("form");
  let asked = 0;
  const ask = async () => {
    const address = new URL(place.dataset.strip, location.href);
    for (const name of ["date", "wind"]) address.searchParams.set(name, form.elements[name].value);
    address.searchParams.set("wide", Math.max(300, Math.round(place.clientWidth)));
    const mine = ++asked;
    const answer = await fetch(address, { headers: { accept: "application/json" } });
    const day = await answer.json();
    if (mine !== asked) return;
    const words = (kind, text) => Object.assign(document.createElement("p"), { className: kind, textContent: text });
    if (day.wrong !== undefined) {
      place.replaceChildren(words("wrong", day.wrong));
      return;
    }
    const picture = new DOMParser().parseFromString(day.svg, "text/html").querySelector("svg");
    place.replaceChildren(picture, words("hint", day.words));
    form.dispatchEvent(new CustomEvent("wind", { detail: day.wind }));
    markPlan(day.windows, form);
  };
  for (const name of ["date", "wind"]) form.elements[name].addEventListener("change", ask);
  ask();
}

// Each drift of the plan: how much of it is in hours that are good in this wind.
function markPlan(windows, form) {
  const list = document.querySelector(".times");
  if (list === null) return;
  const other = form.elements.date.value !== list.dataset.date || form.elements.wind.value.trim() !== list.dataset.wind;
  document.getElementById("plan-other").hidden = !other;
  const good = windows.filter(({ kind }) => kind !== "slack").map(({ start, end }) => [Date.parse(start), Date.parse(end)]);
  for (const row of list.querySelectorAll(".drift")) {
    const [start, end] = [Date.parse(row.dataset.start), Date.parse(row.dataset.end)];
    const within = good.reduce((sum, [from, to]) => sum + Math.max(0, Math.min(end, to) - Math.max(start, from)), 0);
    row.classList.toggle("lost", other && within < (end - start) / 2);
  }
}
