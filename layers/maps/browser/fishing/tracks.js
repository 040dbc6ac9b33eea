// Tracks by kind and fish, however many seasons they are.
import { Bulk, placed } from "./bulk.js";
import { catchCard, driftCard, pieceCard } from "./cards.js";

const TRACK = {
  run: { color: "#3c4650", weight: 1.5, dash: [2, 6], opacity: 0.75 },
  drift: { color: "#0b5c4a", weight: 3, opacity: 0.9 },
  hold: { color: "#7a3fa0", weight: 4, dash: [1, 5], opacity: 0.9 },
  gap: { color: "#a02020", weight: 1.5, dash: [10, 8], opacity: 0.8 },
};
// Full or hollow: told without colour.
const FISH = {
  kept: { radius: 6.5, color: "#111111", weight: 1.8, fill: "#ffffff" },
  short: { radius: 5, color: "#111111", weight: 1.8, fill: "#ffffff20" },
};

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
    looks: { [kind]: TRACK[kind] }, style: () => kind, wanted, about: (row) => card(row, state),
  });
}

function catchLayer(state) {
  return bulk(state.data.catches || [], {
    looks: FISH, marks: true, style: (row) => (row.kept === true ? "kept" : "short"),
    wanted: (row) => state.only.fish(row), about: (row) => catchCard(row, state),
  });
}

export { catchLayer, TRACK, trackLayer };
