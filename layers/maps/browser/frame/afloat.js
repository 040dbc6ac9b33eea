// What is wanted on the water: views for sun and night, own place.
import { boatMarks } from "../bottom/overlays.js";
import { choice } from "./card.js";
import { markLook } from "./looks.js";
import { announce } from "./readout.js";

const VIEWS = [["day", "Day"], ["sun", "Bright sun"], ["night", "Night"]];

// The view that was chosen last in this browser.
function lastView() {
  let view = "day";
  try {
    view = localStorage.getItem("seabed view");
  } catch { /* no store: the day's view */ }
  return VIEWS.some(([name]) => name === view) ? view : "day";
}

function viewChoice(box, state) {
  const select = choice(box, "View", VIEWS, state.view);
  select.addEventListener("change", () => state.set({ view: select.value }));
  const set = () => { document.body.dataset.view = select.value = state.view; };
  state.on("view", () => {
    set();
    try {
      localStorage.setItem("seabed view", state.view);
    } catch { /* not kept */ }
  });
  set();
}

// Follow the boat until switched off; nothing leaves the page.  A broken line round it shows how far off
// it may be.
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
    const { color, casing } = markLook(state.view, "boat");
    const reach = { radius: coords.accuracy, weight: 2, fill: false, interactive: false };
    drawn = L.layerGroup([
      L.circle(state.own, { ...reach, color: casing }),
      L.circle(state.own, { ...reach, color, dashArray: "3 7" }),
      ...boatMarks(state, state.own),
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
      if (error.code === 1) off("This browser may not give its position.");
      else announce("No position yet.");
    }, { enableHighAccuracy: true });
  });
}

export { VIEWS, lastView, ownPlace, viewChoice };
