// What moved since an older survey, and soundings that stand alone.
import { described, table } from "../fishing/cards.js";
import { arrow, cased, sign, tapped } from "./overlays.js";
import { markLook } from "../frame/looks.js";

// Filled ground has a whole outline, scoured ground a dashed one: clear without colour.
function changeLook(view, kind) {
  const look = markLook(view, kind);
  const fill = { fill: true, fillColor: look.color, fillOpacity: 0.35 };
  return { look, fill, sample: { fill: look.color, "fill-opacity": 0.35, "stroke-width": 2, "stroke-dasharray": look.dashArray || "none" } };
}

function changeCard(patch, state) {
  const title = patch.kind === "filled" ? "Filled: shallower now" : "Scoured: deeper now";
  return table(title, described("changes", patch, state, { change_id: null, kind: null }));
}

function changeLayer(state) {
  return L.layerGroup((state.data.changes || []).map((patch) => {
    const { look, fill } = changeLook(state.view, patch.kind);
    return tapped(cased(patch.g, look, fill), () => changeCard(patch, state));
  }));
}

function moveCard(move, state) {
  const title = move.kind === "sand waves" ? "Sand waves moved" : `This ${move.kind} moved`;
  return table(title, described("moves", move, state, { move_id: null, kind: null }));
}

function moveLayer(state) {
  const group = L.layerGroup();
  for (const move of state.data.moves || []) {
    group.addLayer(tapped(cased(move.g, markLook(state.view, "moved")), () => moveCard(move, state)));
    group.addLayer(arrow(move.g, move.toward_deg));
  }
  return group;
}

function doubtfulCard(sounding, state) {
  return table("Doubtful sounding", [
    ...described("doubtful", sounding, state),
    ["Meaning", "an error, or a rock: keep clear of it"],
  ]);
}

function doubtfulLayer(state) {
  const { symbol } = markLook(state.view, "doubtful");
  return L.layerGroup((state.data.doubtful || []).map((sounding) => tapped(
    sign(sounding.g.coordinates, symbol, "doubtful", { alt: "Doubtful sounding", title: "Doubtful sounding" }),
    () => doubtfulCard(sounding, state))));
}

export { changeLayer, changeLook, doubtfulLayer, moveLayer };
