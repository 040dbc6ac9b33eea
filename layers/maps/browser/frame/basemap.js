// An online base map: asked for only while it is switched on, with the warning beside the switch.
import { tick } from "./card.js";
import { announce } from "./readout.js";
import { make } from "./words.js";

function basemapSwitch(box, state) {
  const named = state.data.basemap;
  if (!named) return;
  const layer = L.tileLayer(named.address, { maxZoom: 20, maxNativeZoom: 18 });
  const { label, input } = tick(`Base map from ${named.host}`, false);
  const warning = make("p", named.warning, "hint");
  warning.id = "basemap-warning";
  input.setAttribute("aria-describedby", warning.id);
  const credit = make("p", named.credit);
  credit.id = "credit";
  credit.hidden = true;
  document.body.append(credit);
  input.addEventListener("change", () => {
    if (input.checked) layer.addTo(state.map);
    else layer.remove();
    credit.hidden = !input.checked || !named.credit;
  });
  layer.on("tileerror", () => announce(`${named.host} does not answer; the rest of the map works.`));
  box.append(label, warning);
}

export { basemapSwitch };
