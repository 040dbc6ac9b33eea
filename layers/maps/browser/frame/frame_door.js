// The door to the page around the map, where one shows it in a frame: each tells the other what is chosen.
//
// The page says { seabed: "choose", kind, name } to the map; the map answers with { seabed: "chosen", kind, name }
// whenever another thing is chosen, by whomever; with a name of null where nothing is.  Kinds and names are those of
// `CHOOSABLE`; an unknown one is passed over.  { seabed: "hello" } asks for the answer alone,
// { seabed: "view", view } for day, sun or night.  The map says
// { seabed: "ready" } once; what it shows it tells only a page that spoke to it.  It hears the page around it and no
// other window.
import { VIEWS } from "./afloat.js";
import { placesOf } from "../bottom/places.js";

const CHOOSABLE = {
  plan: ({ plan }) => (plan || []).map((one) => [one.plan_id, one]),
  lines: ({ lines }) => (lines || []).map((one) => [one.line, one]),
  places: (data) => placesOf(data).map((one) => [`R${one.rank}`, one]),
};

function thingNamed({ data }, kind, name) {
  const rows = Object.hasOwn(CHOOSABLE, kind) ? CHOOSABLE[kind](data) : [];
  return rows.find(([own]) => own === name)?.[1] || null;
}

function nameChosen({ data, chosen }) {
  if (!chosen) return { kind: null, name: null };
  const row = CHOOSABLE[chosen.kind]?.(data).find(([, thing]) => thing === chosen.thing);
  return { kind: chosen.kind, name: row ? row[0] : null };
}

function openDoor(state, page = window) {
  if (page.parent === page) return;
  let origin = null;
  const answer = () => origin && page.parent.postMessage({ seabed: "chosen", ...nameChosen(state) }, origin);
  page.addEventListener("message", (event) => {
    const { seabed, kind, name, view } = event.source === page.parent && event.data ? event.data : {};
    if (seabed === "view" && VIEWS.some(([known]) => known === view)) state.set({ view });
    if (seabed !== "hello" && seabed !== "choose") return;
    origin = event.origin === "null" ? "*" : event.origin; // a page from a file has no origin that can be named
    const thing = seabed === "choose" ? thingNamed(state, kind, name) : null;
    if (thing && thing !== state.chosen?.thing) state.set({ chosen: { kind, thing } }); // which answers by itself
    else answer();
  });
  state.on("chosen", answer);
  page.parent.postMessage({ seabed: "ready" }, "*");
}

export { openDoor };
