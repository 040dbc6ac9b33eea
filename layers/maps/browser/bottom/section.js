// A line drawn by hand: its length and bearing, and the bottom in section along it.
import { button, facts, field, openCard, openMiddle, refillCard, takeTaps } from "../frame/card.js";
import { drawProfile, metresBetween } from "./profile.js";
import { markLook } from "../frame/looks.js";
import { direction, make, quantity } from "../frame/words.js";

function bearing(a, b) {
  const radians = Math.PI / 180;
  const across = (b[0] - a[0]) * radians;
  const y = Math.sin(across) * Math.cos(b[1] * radians);
  const x = Math.cos(a[1] * radians) * Math.sin(b[1] * radians)
    - Math.sin(a[1] * radians) * Math.cos(b[1] * radians) * Math.cos(across);
  return ((Math.atan2(y, x) / radians) + 360) % 360;
}

function openSection(state) {
  const points = [];
  const drawn = L.featureGroup().addTo(state.map);
  let tide = (state.water && state.water.height(state.moment)) || 0;
  const redraw = () => {
    drawn.clearLayers();
    const places = points.map(([longitude, latitude]) => [latitude, longitude]);
    const { color, casing, weight, dashArray } = markLook(state.view, "section");
    L.polyline(places, { color: casing, weight: weight + 3, interactive: false }).addTo(drawn);
    L.polyline(places, { color, weight, dashArray, interactive: false }).addTo(drawn);
    for (const place of places) {
      L.circleMarker(place, { radius: 6, color, weight: 2, fillColor: casing, fillOpacity: 1, interactive: false }).addTo(drawn);
    }
    refillCard();
  };
  const add = (at) => {
    const wrapped = at.wrap();
    points.push([wrapped.lng, wrapped.lat]);
    redraw();
  };
  const fill = (body) => {
    const row = make("div", null, "row");
    row.append(
      button("Add the centre", () => add(openMiddle(state))),
      button("Remove the last", () => { points.pop(); redraw(); }),
      button("Clear", () => { points.length = 0; redraw(); }),
    );
    body.append(make("p", points.length ? "" : "Tap places on the map, one after another.", "hint"), row);
    if (points.length < 2) return;
    let length = 0;
    for (let i = 1; i < points.length; i += 1) length += metresBetween(points[i - 1], points[i]);
    const unit = state.units.depth;
    const picture = make("div");
    const draw = () => state.depths && picture.replaceChildren(
      drawProfile(state, points, tide ? "Water along the section with that tide" : "Charted depth along the section", tide));
    const last = points.slice(-2);
    body.append(picture, facts([
      ["Length", `${quantity(length, state.units.distance, 2)} (${Math.round(length)} m)`],
      [points.length > 2 ? "Bearing of the last leg" : "Bearing", `${direction(bearing(...last))} true`],
    ]));
    const input = field(body, `Tide above datum, ${unit[0]}`, { type: "number", step: "0.1", inputmode: "decimal" });
    input.value = (tide / unit[1]).toFixed(1);
    input.addEventListener("input", () => { tide = (Number(input.value) || 0) * unit[1]; draw(); });
    draw();
  };
  openCard("Section", fill, () => {
    drawn.remove();
    takeTaps(null);
    deaf();
  });
  takeTaps(add);
  const deaf = state.on("moment", () => {
    tide = state.water.height(state.moment) || 0;
    if (points.length > 1) refillCard();
  });
}

export { bearing, openSection };
