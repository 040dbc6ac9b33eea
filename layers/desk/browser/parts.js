// Fills parts of a page that take longer than the page itself, and those that follow a form.
// One after the other: each keeps a process busy.
export async function fillParts(places) {
  for (const place of places) await fillPart(place);
}

async function fillPart(place, query = "") {
  place.setAttribute("aria-busy", "true");
  const answer = await fetch(place.dataset.part + query);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  place.replaceChildren(...(answer.ok ? page.body.childNodes : page.querySelectorAll("[role=alert]")));
  place.removeAttribute("aria-busy");
}

export function followTicks(place) {
  const form = place.closest("form");
  const look = () => {
    const names = [...form.querySelectorAll("[data-kind]:checked")].map((tick) => ["file", tick.dataset.kind]);
    if (names.length === 0) place.replaceChildren();
    else fillPart(place, `?${new URLSearchParams(names)}`);
  };
  let timer = 0;
  form.addEventListener("change", (event) => {
    if (!event.target.matches("[data-kind]")) return;
    clearTimeout(timer);
    timer = setTimeout(look, 250);
  });
  look();
}
