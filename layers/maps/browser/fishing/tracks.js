// Tracks by kind and fish, however many seasons they are.
import { Bulk, placed } from "./bulk.js";
import { markLook } from "../frame/looks.js";
import { catchCard, driftCard, pieceCard } from "./cards.js";

// Full where it was kept, hollow where not: clear without colour.
function fishLooks(view) {
  const { color, casing } = markLook(view, "fish");
  return { kept: { radius: 6.5, color: casing, weight: 1.8, fill: color }, short: { radius: 5.5, color, weight: 2, fill: casing } };
}

function bulk(rows, options) {
  return new Bulk(rows.map(placed).filter(Boolean), options);
}

// Drifts know more than pieces of their kind: those are drawn only where there are no drifts.
function trackLayer(state, kind) {
  const drifts = kind === "drift" ? state.data.drifts || [] : [];
  const pieces = (state.data.pieces || []).filter((row) => row.kind === kind);
  const [rows, wanted, card] = drifts.length
    ? [drifts, (row) => state.only.drift(row), driftCard] : [pieces, (row) => state.only.piece(row), pieceCard];
  return bulk(rows, {
    looks: { [kind]: markLook(state.view, kind) }, style: () => kind, wanted, about: (row) => card(row, state),
  });
}

function catchLayer(state) {
  return bulk(state.data.catches || [], {
    looks: fishLooks(state.view), marks: true, style: (row) => (row.kept === true ? "kept" : "short"),
    wanted: (row) => state.only.fish(row), about: (row) => catchCard(row, state),
  });
}

export { catchLayer, fishLooks, trackLayer };
