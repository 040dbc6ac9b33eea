// What the parts of the page share.  A part reads it, asks for a change with `set`, and listens with `on`;
// only this file writes into it.
import { Only } from "../fishing/only.js";
import { Picture } from "../bottom/picture.js";
import { Water } from "../bottom/water.js";

const CHANGES = ["view", "units", "band", "moment", "own", "chosen", "expected", "expectedShown"];

class State {
  #ears = {};

  constructor(data, map, view = "day") {
    this.data = data;
    this.map = map;
    this.view = view; // day, sun or night
    this.units = data.units; // each kind: its name, and how many metres one is
    this.band = data.band_m; // depths in metres, or null
    this.only = new Only(data);
    this.water = data.water ? new Water(data.water) : null;
    this.moment = this.water ? firstMoment(this.water, data.plan) : 0; // seconds since 1970
    this.picture = data.depths && typeof DecompressionStream !== "undefined" ? new Picture(data.depths, map, view) : null;
    this.own = null; // where the boat is
    this.chosen = null; // { kind, thing }: the line, planned line or place that a card is about
    this.expected = null;
    this.expectedShown = false;
  }

  get depths() {
    return this.picture ? this.picture.depths : null;
  }

  set(changes) {
    for (const [name, value] of Object.entries(changes)) {
      if (!CHANGES.includes(name)) throw new Error(`no part may change ${name}`);
      this[name] = value;
    }
    for (const name of Object.keys(changes)) this.tell(name);
  }

  // Call `hear` after each change of one of `names`, words with spaces between; what it gives ends that.
  on(names, hear) {
    const ears = names.split(" ").map((name) => (this.#ears[name] ||= new Set()));
    for (const ear of ears) ear.add(hear);
    return () => ears.forEach((ear) => ear.delete(hear));
  }

  // Something in `name` is new: "depths" when a picture of them is there, "only" when other trips are chosen.
  tell(name) {
    for (const hear of this.#ears[name] || []) hear();
  }

  // A card is shut: what it was about is chosen no more, unless another thing is by now.
  leave(thing) {
    if (this.chosen?.thing === thing) this.set({ chosen: null });
  }

  // The chosen thing if it is of a kind, else null.
  chosenOf(kind) {
    return this.chosen?.kind === kind ? this.chosen.thing : null;
  }
}

// The first planned line's, else the middle of the day; in the hour control's steps of 5 minutes.
function firstMoment({ start, end }, plan) {
  const wanted = plan?.length ? plan[0].slot[0] : (start + end) / 2;
  return start + Math.round((Math.min(Math.max(wanted, start), end) - start) / 300) * 300;
}

export { State };
