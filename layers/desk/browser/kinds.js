// Says what the chosen files are taken for.
export function sayKinds(place) {
  const form = place.closest("form");
  const ticks = [...form.querySelectorAll("[data-kind]")];
  form.addEventListener("change", (event) => {
    if (ticks.includes(event.target)) look();
  });

  async function look() {
    const address = new URL(place.dataset.kinds, location.href);
    for (const tick of ticks) if (tick.checked) address.searchParams.append("file", tick.dataset.kind);
    const answer = await fetch(address, { headers: { accept: "application/json" } });
    const files = await answer.json();
    place.replaceChildren(...(answer.ok ? files.map(shown) : [line("wrong", files.message)]));
  }
}

function shown(file) {
  const whole = document.createElement("details");
  const head = document.createElement("summary");
  head.textContent = `${file.file}: ${file.kind}`;
  whole.append(head);
  for (const [name, value] of Object.entries(file.facts)) whole.append(line("", `${name}: ${value}`));
  for (const [what, cure] of file.wrong) whole.append(line("wrong", `${what} ${cure}`));
  whole.open = file.wrong.length > 0;
  return whole;
}

function line(kind, words) {
  return Object.assign(document.createElement("p"), { className: kind, textContent: words });
}
