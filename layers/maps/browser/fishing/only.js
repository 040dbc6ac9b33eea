// Show only some trips and fish: by species, fate, season and stage of the tide.  Tracks, drifts, fish,
// lines and the list follow.
import { button, choice, field } from "../frame/card.js";
import { make } from "../frame/words.js";

const HOURS = [
  [-7, -4, "4 h and more before high water"], [-4, -2, "4 to 2 h before it"], [-2, -0.5, "2 to ½ h before it"],
  [-0.5, 0.5, "within ½ h of high water"], [0.5, 2, "½ to 2 h after it"], [2, 4, "2 to 4 h after it"],
  [4, 7, "4 h and more after it"],
];
const NONE = { species: "", fate: "", from: "", to: "", stage: "", hours: "" };

class Only {
  constructor(data) {
    this.drifts = data.drifts || [];
    this.catches = data.catches || [];
    this.byId = new Map(this.drifts.map((row) => [row.drift_id, row]));
    this.fishOf = new Map();
    for (const fish of this.catches) {
      if (!fish.drift_id) continue;
      if (!this.fishOf.has(fish.drift_id)) this.fishOf.set(fish.drift_id, []);
      this.fishOf.get(fish.drift_id).push(fish);
    }
    this.set({});
  }

  set(chosen) {
    this.chosen = { ...NONE, ...this.chosen, ...chosen };
    this.any = Object.values(this.chosen).some(Boolean);
  }

  clear() {
    this.set(NONE);
  }

  dated(text) {
    const { from, to } = this.chosen;
    const day = (text || "").slice(0, 10);
    return (!from || day >= from) && (!to || (day !== "" && day <= to));
  }

  // Of the stage that is chosen: a drift's own, and that of its drift for a fish.
  staged(drift) {
    const { stage, hours } = this.chosen;
    if (!stage && !hours) return true;
    if (!drift || (stage && drift.stage !== stage)) return false;
    if (!hours) return true;
    const [from, to] = HOURS[Number(hours)];
    const at = drift.hours_from_high;
    return Number.isFinite(at) && at >= from && at < to;
  }

  kind({ species, kept }) {
    const chosen = this.chosen;
    return (!chosen.species || species === chosen.species)
      && (!chosen.fate || (chosen.fate === "kept" ? kept === true : kept === false));
  }

  // Time spent at those times, with fish or without.
  effort(drift) {
    return this.dated(drift.start) && this.staged(drift);
  }

  fish(row) {
    return this.kind(row) && this.dated(row.time) && this.staged(this.byId.get(row.drift_id));
  }

  // Where a kind of fish is chosen, drifts that gave one.
  drift(row) {
    if (!this.effort(row)) return false;
    const { species, fate } = this.chosen;
    return (!species && !fate) || (this.fishOf.get(row.drift_id) || []).some((fish) => this.kind(fish));
  }

  piece(row) {
    return this.dated(row.start);
  }

  // What a line gave in what is chosen; null where nothing is.
  line({ line }) {
    if (!this.any || !this.drifts.length) return null;
    const spent = this.drifts.filter((row) => row.line === line && this.effort(row));
    const fish = spent.flatMap((row) => this.fishOf.get(row.drift_id) || []).filter((row) => this.fish(row));
    return {
      drifts: spent.length,
      shown: spent.some((row) => this.drift(row)),
      hours: spent.reduce((sum, row) => sum + (row.rod_hours || 0), 0),
      kept: fish.filter((row) => row.kept === true).length,
      short: fish.filter((row) => row.kept === false).length,
    };
  }
}

function withAll(words, names) {
  return [["", words], ...names.map((name) => [name, name])];
}

function onlyControl(box, state) {
  const { only } = state;
  const unique = (rows, of) => [...new Set(rows.map(of).filter(Boolean))].sort();
  const days = [...only.drifts.map((row) => row.start), ...only.catches.map((row) => row.time),
    ...(state.data.pieces || []).map((row) => row.start)].filter(Boolean).map((text) => text.slice(0, 10)).sort();
  box.parentElement.hidden = !days.length;
  if (!days.length) return;
  const inputs = [];
  const add = (name, input) => {
    inputs.push(input);
    input.addEventListener("change", () => { only.set({ [name]: input.value }); tell(); });
    return input;
  };
  if (only.catches.length) {
    add("species", choice(box, "Fish of", withAll("every species", unique(only.catches, (row) => row.species)), ""));
    add("fate", choice(box, "Fate", [["", "kept and short"], ["kept", "kept"], ["short", "short"]], ""));
  }
  const years = unique(days, (day) => day.slice(0, 4));
  const season = choice(box, "Season", withAll("every season", years), "");
  const range = { type: "date", min: days[0], max: days[days.length - 1] };
  const from = add("from", field(box, "From day", range));
  const to = add("to", field(box, "To day", range));
  season.addEventListener("change", () => {
    [from.value, to.value] = season.value ? [`${season.value}-01-01`, `${season.value}-12-31`] : ["", ""];
    only.set({ from: from.value, to: to.value });
    tell();
  });
  const stages = unique(only.drifts, (row) => row.stage);
  if (stages.length) add("stage", choice(box, "Stage of tide", withAll("every stage", stages), ""));
  if (only.drifts.some((row) => Number.isFinite(row.hours_from_high))) {
    add("hours", choice(box, "Hours from high water", [["", "every hour"], ...HOURS.map(([, , words], i) => [String(i), words])], ""));
  }
  const told = make("p", "", "hint");
  told.setAttribute("role", "status");
  const tell = () => { say(); state.tell("only"); };
  const row = make("div", null, "row");
  row.append(button("Show all", () => {
    for (const input of [...inputs, season]) input.value = "";
    only.clear();
    tell();
  }));
  box.append(told, row);
  function say() {
    const count = (rows, wanted) => `${rows.filter((one) => only[wanted](one)).length} of ${rows.length}`;
    const parts = [];
    if (only.drifts.length) parts.push(`${count(only.drifts, "drift")} drifts`);
    if (only.catches.length) parts.push(`${count(only.catches, "fish")} fish`);
    told.textContent = parts.length ? `Shown: ${parts.join(", ")}.` : "";
  }
  say();
}

export { Only, onlyControl };
