// What every page of the desk does: screen light, following tasks, sending files, drawing depths.
import { followTasks, markFields, openAround } from "./tasks.js";
import { sendFiles, takeAway, tickSent } from "./sending.js";
import { drawDepths } from "./depths.js";
import { keepFocusOver } from "./focus.js";
import { mapDoor } from "./mapdoor.js";
import { fillParts, followTicks } from "./parts.js";
import { followDay } from "./strip.js";
import { typedTable } from "./table.js";
import { followTrip } from "./trip.js";
import { windDial } from "./wind.js";

const dark = matchMedia("(prefers-color-scheme: dark)");

function keepLight() {
  const choice = document.getElementById("light");
  choice.value = localStorage.getItem("light") ?? "auto";
  const show = () => {
    document.body.dataset.view = choice.value === "auto" ? (dark.matches ? "night" : "day") : choice.value;
    document.dispatchEvent(new Event("light"));
  };
  choice.addEventListener("change", () => {
    localStorage.setItem("light", choice.value);
    show();
  });
  dark.addEventListener("change", show);
  show();
}

// The desk offers to close when its last page is gone.
function tellOpen() {
  const own = crypto.randomUUID();
  addEventListener("pageshow", () => navigator.sendBeacon(`/pages?open=${own}`));
  addEventListener("pagehide", () => navigator.sendBeacon(`/pages?shut=${own}`));
}

// A field that the address names is open to be filled in.
function showNamed() {
  const named = document.getElementById(location.hash.slice(1));
  if (!named?.matches(".field, details")) return;
  openAround(named);
  named.querySelector("input, select").focus();
  named.scrollIntoView({ block: "center" });
}

tellOpen();
keepLight();
mapDoor(() => document.body.dataset.view);
markFields();
const water = document.querySelector("[data-water]")?.dataset.water;
if (water !== undefined) followTasks(water);
tickSent();
for (const form of document.querySelectorAll("form.drop")) sendFiles(form);
for (const button of document.querySelectorAll("[data-remove]")) takeAway(button);
for (const place of document.querySelectorAll("[data-depths]")) drawDepths(place);
fillParts(document.querySelectorAll("[data-part]:not([data-follows])"));
for (const place of document.querySelectorAll("[data-follows]")) followTicks(place);
for (const field of document.querySelectorAll("[data-own-zone]:not([aria-invalid])")) field.value = Intl.DateTimeFormat().resolvedOptions().timeZone;
for (const field of document.querySelectorAll("[data-own-units]")) field.value = navigator.language.endsWith("-US") ? "ft" : "m";
for (const place of document.querySelectorAll(".dial")) windDial(place);
for (const place of document.querySelectorAll("[data-strip]")) followDay(place, water);
for (const place of document.querySelectorAll("[data-table]")) {
  place.addEventListener("toggle", () => place.dataset.filled || typedTable(place), { once: true });
  if (location.hash === `#${place.id}`) place.open = true;
}
const trip = document.getElementById("trip");
if (trip !== null) followTrip(trip);
showNamed();
addEventListener("hashchange", showNamed);
keepFocusOver();
document.body.dataset.ready = "yes";
