// What is wanted on the water: views for sun and night, own place.
import { choice } from "./card.js";

const VIEWS = [["day", "Day"], ["sun", "Bright sun"], ["night", "Night"]];

export function viewChoice(box, state) {
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
  state.view = select;
}

// Follow the boat until switched off; nothing leaves the page.
export function ownPlace(state, button) {
  let watch = null;
  let drawn = null;
  const off = (words) => {
    if (watch !== null) navigator.geolocation.clearWatch(watch);
    if (drawn) drawn.remove();
    [watch, drawn, state.own] = [null, null, null];
    button.setAttribute("aria-pressed", "false");
    if (words) state.say(words);
  };
  const seen = ({ coords }) => {
    const first = !state.own;
    state.own = L.latLng(coords.latitude, coords.longitude);
    if (drawn) drawn.remove();
    drawn = L.layerGroup([
      L.circle(state.own, { radius: coords.accuracy, color: "#1a5fd0", weight: 1.5, fillOpacity: 0.1, interactive: false }),
      L.circleMarker(state.own, { radius: 9, color: "#ffffff", weight: 3, fillColor: "#1a5fd0", fillOpacity: 1, interactive: false }),
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
      else state.say("No position yet.");
    }, { enableHighAccuracy: true });
  });
}
