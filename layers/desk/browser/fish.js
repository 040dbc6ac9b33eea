// The fish of a trip: a table, and a form that adds, changes, moves or takes away one.
import { fill, stamp, underDays } from "./words.js";

const AROUND = 12 * 3600;
const plain = (words) => words.replace(/[,#\s]+/gu, " ").trim();

export function showFish(trip, choose, correct) {
  const table = document.getElementById("fish-table");
  const form = document.getElementById("fish-form");
  const field = form.elements;
  const tackle = [...form.querySelectorAll("[data-tackle]")].map((one) => one.name);
  const button = (name) => form.querySelector(`[data-fish=${name}]`);
  let shown = null;

  function row(one, number) {
    const time = one.t === null ? "" : trip.clock(one.t);
    const change = Object.assign(document.createElement("button"), { type: "button", className: "second", textContent: time, id: `fish-${one.file}-${one.row}` });
    change.setAttribute("aria-label", `${table.dataset.change}: ${time} ${one.species}`);
    change.addEventListener("click", () => { choose({ t: one.t, one: number }); field.time.focus(); });
    const first = Object.assign(document.createElement("th"), { scope: "row" });
    first.append(one.t === null ? "" : change);
    const made = document.createElement("tr");
    made.append(first);
    for (const words of [one.species, one.length ?? "", one.kept === null ? "" : table.dataset[one.kept ? "kept" : "short"]]) {
      made.append(Object.assign(document.createElement("td"), { textContent: words }));
    }
    if (one.drift === "") made.children[1].append(Object.assign(document.createElement("small"), { textContent: ` ${table.dataset.none}`, title: one.why }));
    made.classList.toggle("chosen", number === trip.fish);
    return made;
  }

  function head(day) {
    const made = document.createElement("tr");
    made.append(Object.assign(document.createElement("th"), { scope: "rowgroup", colSpan: 4, className: "day", textContent: day }));
    return made;
  }

  function draw() {
    const { t } = trip.sketch.track;
    const near = (one) => one.drift !== "" || one.t === null || (one.t > t[0] - AROUND && one.t < t.at(-1) + AROUND);
    const own = trip.sketch.fish;
    const listed = own.filter(near).sort((one, other) => (one.t ?? 0) - (other.t ?? 0));
    table.tBodies[0].replaceChildren(...underDays(listed, (one) => one.t, trip.day, (one) => row(one, own.indexOf(one)), head));
    table.hidden = !own.some(near);
    const others = document.getElementById("fish-others");
    const count = own.filter((one) => !near(one)).length;
    others.hidden = count === 0;
    others.textContent = fill(others.dataset.words, { count });
    const fish = trip.fish === null ? null : own[trip.fish];
    const mode = fish === null ? "add" : "change";
    for (const place of [form.querySelector("h3"), button("save")]) place.textContent = place.dataset[mode];
    for (const name of ["move", "out", "leave"]) button(name).hidden = fish === null;
    button("move").textContent = fill(button("move").dataset.words, { time: trip.clock(trip.t) });
    if (fish === null) { field.time.value = trip.clock(trip.t); if (shown !== null) empty(); } else if (fish !== shown) fillIn(fish);
    button("move").hidden ||= fish?.t === trip.t;
    shown = fish;
  }

  function empty() {
    for (const name of ["species", "size", "note", ...tackle]) field[name].value = "";
    field.kept.value = "kept";
  }

  function fillIn(fish) {
    field.time.value = trip.clock(fish.t);
    for (const name of ["species", "note", ...tackle]) field[name].value = fish[name];
    field.size.value = fish.length ?? "";
    field.kept.value = fish.kept === null ? "unknown" : fish.kept ? "kept" : "short";
  }

  // Clocks of one day: the moment near another at which the water's clocks show this.
  function moment(near) {
    const seconds = (words) => words.split(":").reduce((sum, one) => sum * 60 + Number(one), 0) * (words.split(":").length === 2 ? 60 : 1);
    const away = seconds(field.time.value) - seconds(trip.clock(near));
    return away === 0 ? near : Math.round(near) + away;
  }

  const unit = () => trip.sketch.fish_unit;

  function line(t) {
    const words = [plain(field.species.value)];
    const length = field.size.value.replace(",", ".").trim();
    if (length !== "") words.push(`${length} ${unit()}`);
    if (field.kept.value !== "unknown") words.push(field.kept.value);
    for (const name of [...tackle, "note"]) if (plain(field[name].value) !== "") words.push(`${name} ${plain(field[name].value)}`);
    return `${stamp(t)} fish: ${words.join(", ")}`;
  }

  function gone(fish) {
    const named = fish.species !== "" && plain(fish.species) === fish.species;
    const length = fish.length === null ? "" : `, ${fish.length} ${unit()}`;
    return `${stamp(fish.t)} no fish${named ? `: ${fish.species}${length}` : ""}`;
  }

  const change = (fish, t) => correct([gone(fish), line(t)]);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const fish = trip.fish === null ? null : trip.sketch.fish[trip.fish];
    const t = moment(fish?.t ?? trip.t);
    if (await (fish === null ? correct([line(t)]) : change(fish, t)) && fish === null) empty();
  });
  button("move").addEventListener("click", async () => { if (await change(trip.sketch.fish[trip.fish], trip.t)) field.time.focus(); });
  button("out").addEventListener("click", async () => { if (await correct([gone(trip.sketch.fish[trip.fish])])) field.time.focus(); });
  button("leave").addEventListener("click", () => { choose({ one: null }); field.time.focus(); });
  return { draw, begin: () => field.species.focus() };
}
