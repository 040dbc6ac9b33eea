// What is wanted on the water: views for sun and night, own place.
import { choice } from "./card.js";
import { announce } from "./readout.js";

const VIEWS = [["day", "Day"], ["sun", "Bright sun"], ["night", "Night"]];

function viewChoice(box) {
  let view = "day";
  try {
    view = localStorage.getItem("seabed view") || "day";
  } catch { /* no store: the day's view */ }
  const set = (name) => {
    document.body.dataset.view = name;
    try {
      localStorage.setItem("seabed view", name);
    } catch { /* not kept */ }
  };
  const select = choice(box, "View", VIEWS, VIEWS.some(([name]) => name === view) ? view : "day");
  select.addEventListener("change", () => set(select.value));
  document.body.dataset.view = select.value;
}

// Follow the boat until switched off; nothing leaves the page.  A dot in a ring, as a fix is marked on
// paper, in the colour that the boat has in a trip run again; a broken line round how far off it may be.
function ownPlace(state, button) {
  let watch = null;
  let drawn = null;
  const off = (words) => {
    if (watch !== null) navigator.geolocation.clearWatch(watch);
    if (drawn) drawn.remove();
    [watch, drawn] = [null, null];
    state.set({ own: null });
    button.setAttribute("aria-pressed", "false");
    if (words) announce(words);
  };
  const seen = ({ coords }) => {
    const first = !state.own;
    state.set({ own: L.latLng(coords.latitude, coords.longitude) });
    if (drawn) drawn.remove();
    const ink = { color: "#c2410c", interactive: false };
    drawn = L.layerGroup([
      L.circle(state.own, { ...ink, radius: coords.accuracy, weight: 2, dashArray: "3 7", fill: false }),
      L.circleMarker(state.own, { ...ink, radius: 12, color: "#ffffff", weight: 6, fill: false }),
      L.circleMarker(state.own, { ...ink, radius: 12, weight: 2.5, fillColor: "#ffffff", fillOpacity: 1 }),
      L.circleMarker(state.own, { ...ink, radius: 2, weight: 2, fillColor: ink.color, fillOpacity: 1 }),
    ]).addTo(state.map);
    if (first) state.map.panTo(state.own);
  };
  button.addEventListener("click", () => {
    if (watch !== null) {
      off();
      return;
    }
    if (!navigator.geolocation) {
      off("This browser gives no position.");
      return;
    }
    button.setAttribute("aria-pressed", "true");
    watch = navigator.geolocation.watchPosition(seen, (error) => {
      if (error.code === 1) off("The browser was told to give no position.");
      else announce("No position yet.");
    }, { enableHighAccuracy: true });
  });
}

export { ownPlace, viewChoice };
