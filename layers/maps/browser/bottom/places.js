// Where to look first: the ranked edges, humps and holes, in the list, on the map and on a card.
import { goTo, listRow, openCard, pressRow } from "../frame/card.js";
import { depthDigits, direction, make, position, quantity, rounded } from "../frame/words.js";
import { kindOf, placeFacts } from "../fishing/cards.js";
import { degreesPerMetre } from "./water.js";
import { sign } from "./overlays.js";
import { drawProfile } from "./profile.js";
import { choosePlace } from "./structure.js";

const MOST_LISTED = 25;

function placesOf({ edges, features }) {
  return [...(edges || []), ...(features || [])].filter((one) => one.rank).sort((a, b) => a.rank - b.rank);
}

// Where nothing was fished or planned, the places are what the map is about.
function scouted({ lines, plan }) {
  return !lines?.length && !plan?.length;
}

function placeLayer(state) {
  return L.layerGroup(placesOf(state.data).slice(0, MOST_LISTED).map((one) => {
    const words = `Place R${one.rank}: ${kindOf(one)}`;
    return sign(one.at, `R${one.rank}`, "place", { alt: words, title: words, zIndexOffset: 500 - one.rank }).on("click", () => choosePlace(state, one));
  }));
}

function placeList(state) {
  const every = placesOf(state.data);
  const places = every.slice(0, MOST_LISTED);
  document.getElementById("places-part").hidden = !places.length || !scouted(state.data);
  document.getElementById("places-hint").textContent = every.length > places.length
    ? `The best ${places.length} of ${every.length}. A score is a rule of thumb, with no fish behind it.`
    : "A score is a rule of thumb, with no fish behind it.";
  const press = () => pressRow("places", places, state.chosenOf("places"));
  const fill = () => {
    document.getElementById("places").replaceChildren(...places.map((one) => row(state, one)));
    press();
  };
  state.on("units", fill);
  state.on("chosen", () => {
    press();
    const place = state.chosenOf("places");
    if (place) openPlace(state, place);
  });
  fill();
}

function row(state, place) {
  const [unit, digits] = [state.units.depth, depthDigits(state.units.depth)];
  const number = (metres) => rounded(metres / unit[1], digits);
  const [from, to] = place.kind ? [place.saddle_depth_m, place.crest_depth_m] : [place.top_depth_m, place.foot_depth_m];
  const gap = "\u00a0"; // a depth and its unit stay on one line
  const name = `${kindOf(place)}, ${number(from)}${gap}to${gap}${number(to)}${gap}${unit[0]}`;
  const long = quantity(place.kind ? place.long_axis_m : place.length_m, state.units.distance, 2);
  const words = place.kind ? `${quantity(place.height_m, unit, digits)} ${place.kind === "hump" ? "high" : "deep"}, ${long} long`
    : `Deeper toward ${direction(place.faces_deg)}, ${long}`;
  return listRow(`R${place.rank}`, name, Number.isFinite(place.score) ? [place.score.toFixed(0), " of 100"] : ["", ""], words, () => choosePlace(state, place));
}

function openPlace(state, place) {
  openCard(`R${place.rank}. ${kindOf(place)}`, (body) => {
    body.append(make("p", position(place.at[1], place.at[0]), "position"));
    if (place.why) body.append(make("p", place.why, "why"));
    if (state.depths) body.append(drawProfile(state, sectionAcross(place), "Depth across it"));
    body.append(placeFacts(place, state));
  }, () => state.leave(place));
  goTo(state, { type: "LineString", coordinates: sectionAcross(place, 3) });
}

// A line across a place, from the shallow to the deep side of an edge, across the short axis of a hump or hole.
function sectionAcross({ at, faces_deg, width_m, bearing_deg, short_axis_m }, times = 1) {
  const toward = ((faces_deg ?? (bearing_deg ?? 0) + 90) * Math.PI) / 180;
  const half = Math.min(Math.max(1.5 * (width_m ?? short_axis_m ?? 0), 40), 400) * times;
  const [perEast, perNorth] = degreesPerMetre(at[1]);
  return [-half, half].map((metres) => [at[0] + Math.sin(toward) * metres * perEast, at[1] + Math.cos(toward) * metres * perNorth]);
}

export { MOST_LISTED, placeLayer, placeList, placesOf, scouted };
